"""Typed columns turned back into the text that a person would have typed."""

from __future__ import annotations

from datetime import datetime

import polars as pl

from draincurve.schemas.errors import SourceError


def column_text(column: pl.Series, source: str) -> pl.Series:
    """A typed column as text: dates ISO, durations in hours, numbers in their shortest exact form, blanks null.

    Raises SourceError, naming the source, for a column that has no text (lists, bytes).
    """
    kind = column.dtype
    if isinstance(kind, pl.Date | pl.Datetime):
        return _day_text(column, kind)
    if isinstance(kind, pl.Duration):
        return (column.dt.total_microseconds(fractional=False) / 3_600_000_000).cast(pl.String)
    if kind.is_nested() or kind in (pl.Binary, pl.Object):
        raise SourceError(
            f"{source}: column {column.name}: holds {kind}, not text, numbers or dates; write plain cells"
        )
    if kind.is_float() and ((column.drop_nulls() % 1 == 0) & (column.drop_nulls().abs() < 2**53)).all():
        return column.cast(pl.Int64, strict=False).cast(pl.String)  # "7", not "7.0": a unit's number is a name
    return column.cast(pl.String)


def _day_text(column: pl.Series, kind: pl.Date | pl.Datetime) -> pl.Series:
    """Days and times in ISO form; one outside the calendar as its number, so that its row is held back."""
    form = "%Y-%m-%d %H:%M:%S" if isinstance(kind, pl.Datetime) else "%Y-%m-%d"
    if isinstance(kind, pl.Datetime) and kind.time_unit == "ns":  # from 1677 to 2262, whatever the number
        return column.dt.strftime(form)
    first, last = pl.Series([datetime.min, datetime.max]).cast(kind).to_physical()
    numbers = column.to_physical()
    real = numbers.is_between(first, last).fill_null(True)
    nothing = pl.repeat(None, len(column), dtype=kind, eager=True)
    return column.zip_with(real, nothing).dt.strftime(form).zip_with(real, "number " + numbers.cast(pl.String))
