"""The part of a log's drains that is asked for, and no copy of the rest: in a large log a copy is what costs."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

import polars as pl


def known_by(drains: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """Drains up to a day; the frame itself where that is all of them."""
    known = (drains["drained_on"] <= as_of).fill_null(False)
    return drains if known.all() else drains.filter(known)


def oil_changes(drains: pl.DataFrame, columns: Iterable[str]) -> pl.DataFrame:
    """Some columns of the drains that are no top-ups; a blank kind of service is an oil change."""
    change = drains.select(pl.col("service_kind").fill_null("oil") != "top-up").to_series()
    wanted = drains.select(columns)
    return wanted if change.all() else wanted.filter(change)
