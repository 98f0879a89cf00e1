"""What a notebook gives, a path or frame, a date, a dict, as the inputs of a run, and frames of the kind it wants.

Whatever is wrong is a clear error.
"""

from __future__ import annotations

import difflib
import operator
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any, TypeVar

import polars as pl

from draincurve.notebook.pandas_frames import pandas_frame
from draincurve.pipeline.reading import RunInputs
from draincurve.pipeline.reading.sources import (
    SourceAddress,
    SourceTable,
    frame_table,
    is_frame,
    source_address,
)
from draincurve.schemas.checked_settings import filled
from draincurve.schemas.errors import SettingsError, SourceError
from draincurve.schemas.settings import Settings, checked_policy, read_settings

TableInput = Any
"""A path, an address, or a pandas, polars or Arrow frame."""

SettingsInput = Settings | Mapping[str, Any] | str | Path | None
"""Settings, a dict of those that differ from the defaults, or the path of a TOML file."""

DayInput = date | str | None
"""A date or its ISO text; None means today, or for a log that is read already its own day."""

FRAME_KINDS = ("pandas", "polars")

Kind = TypeVar("Kind")


def notebook_inputs(
    log: TableInput, as_of: DayInput, *, settings: SettingsInput, sides: Mapping[str, TableInput], hidden: bool
) -> RunInputs:
    """The inputs of a run. Raises SourceError and SettingsError for what cannot be used."""
    return RunInputs(
        log=_source(log, "drains"),
        as_of=_day(as_of) if as_of is not None else _today(),
        sides=_sources(sides),
        settings=_policy(settings),
        hidden=hidden,
    )


def changed_inputs(
    inputs: RunInputs, as_of: DayInput, *, settings: SettingsInput, sides: Mapping[str, TableInput]
) -> RunInputs:
    """The same inputs with whatever is given in place of what they have."""
    return replace(
        inputs,
        as_of=inputs.as_of if as_of is None else _day(as_of),
        sides={**inputs.sides, **_sources(sides)},
        settings=inputs.settings if settings is None else _policy(settings),
    )


def of_kind(given: Any, kind: type[Kind], *, name: str, expected: str) -> Kind:
    """What is given, of the kind that is expected. Raises SourceError for any other, which says what was found."""
    if not isinstance(given, kind):
        raise SourceError(f"{name}: found {type(given).__name__}; expected {expected}")
    return given


def checked_folder(given: Any) -> Path:
    """A folder to write into. Raises SourceError for what is no path."""
    return given if isinstance(given, Path) else Path(of_kind(given, str, name="folder", expected="a path"))


def whole_number(given: Any, name: str) -> int:
    """A whole number, NumPy's among them. Raises SourceError for anything else."""
    try:
        return operator.index(given)
    except TypeError as fault:
        raise SourceError(f"{name}: found {type(given).__name__}; expected a whole number") from fault


def not_among(kind: str, name: object, *, known: Iterable[str]) -> SourceError:
    """The error for a name that is not among the known ones, with the nearest of them; kind : what is named."""
    names = list(known)
    if not isinstance(name, str):
        example = f", such as {names[0]!r}" if names else ""
        return SourceError(f"{kind}: found {type(name).__name__}; expected one name{example}")
    near = difflib.get_close_matches(str(name), names, n=3, cutoff=0.5)
    hint = f"did you mean {' or '.join(near)}?" if near else f"there are {', '.join(names[:10])}"
    more = f" and {len(names) - 10} more" if len(names) > 10 and not near else ""
    return SourceError(f"{kind} {name!r}: is not in this plan; {hint}{more}")


def checked_kind(frames: str) -> str:
    """The kind of frames itself; raises SettingsError for one that is not known."""
    if frames not in FRAME_KINDS:
        raise SettingsError(f"frames = {frames!r}: expected one of {', '.join(FRAME_KINDS)}")
    return frames


def frame_of(table: pl.DataFrame, frames: str) -> Any:
    """The table as a pandas or polars frame."""
    return pandas_frame(table) if frames == "pandas" else table


def _sources(sides: Mapping[str, TableInput]) -> dict[str, SourceAddress | SourceTable]:
    return {name: _source(given, name) for name, given in sides.items() if given is not None}


def _source(given: TableInput, table: str) -> SourceAddress | SourceTable:
    if isinstance(given, str | Path):
        return source_address(str(given))
    if is_frame(given):
        return frame_table(given, table)
    read_before = "what `read` gave, " if table == "drains" else ""
    raise SourceError(
        f"{'log' if read_before else table}: found {type(given).__name__}; expected {read_before}a path, an address, "
        "or a pandas, polars or Arrow frame"
    )


def _policy(given: SettingsInput) -> Settings:
    if isinstance(given, Settings):
        return given
    if isinstance(given, Mapping):
        return checked_policy(filled(Settings(), dict(given), "settings"), "settings: [costs]")
    if given is None or isinstance(given, str | Path):
        return read_settings(None if given is None else Path(given))
    raise SettingsError(
        f"settings: found {type(given).__name__}; expected a dict, Settings, or the path of a TOML file"
    )


def _day(given: date | str) -> date:
    if isinstance(given, datetime):
        day = given.date()
    elif isinstance(given, date):
        day = given
    else:
        try:
            day = date.fromisoformat(given)
        except (TypeError, ValueError) as fault:
            raise SettingsError(f"as_of = {given!r}: expected a date such as '2026-06-20'") from fault
    if day > _today():
        raise SettingsError(
            f"as_of = {day}: is in the future (today is {_today()}); name a day up to today, or leave it out"
        )
    return day


def _today() -> date:
    return datetime.now().astimezone().date()
