"""Tables as the kind of frame that a notebook asked for."""

from __future__ import annotations

from typing import Any

import polars as pl

from draincurve.schemas.errors import SettingsError

KINDS = ("pandas", "polars")


def checked_kind(frames: str) -> str:
    """The kind itself; raises SettingsError for one that is not known."""
    if frames not in KINDS:
        raise SettingsError(f"frames = {frames!r}: expected one of {', '.join(KINDS)}")
    return frames


def frame_of(table: pl.DataFrame, frames: str) -> Any:
    """The table as a pandas or polars frame."""
    return table.to_pandas() if frames == "pandas" else table
