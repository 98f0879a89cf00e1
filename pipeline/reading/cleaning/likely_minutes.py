"""Numbers in a column of times that may be minutes: behind a point, as 12.30 for 12:30, or without a unit."""

from __future__ import annotations

from typing import NamedTuple

import polars as pl

from draincurve.pipeline.reading.cleaning.numbers import PLAIN
from draincurve.pipeline.reading.cleaning.units_of_measurement import unit_factor
from draincurve.schemas.columns import Kind

FEWEST_TIMES = 3
"""Numbers with two decimals, all under 60, from which they may be minutes beside times such as 12:30."""
FEWEST_QUARTERS = 8
"""Numbers whose decimals are 00, 15, 30 or 45, from which they may be minutes anyway."""
FEWEST_UNDER_60 = 10
"""Cells with two decimals other than those of quarters, from which it is no chance that none has 60 to 99: where they
are decimals, it is one of 0.6 for each."""
FEWEST_MINUTES = 2.0
"""Time from which a number may be minutes; hardly anyone lets oil settle for less."""
_QUARTERS, _NO_QUARTERS = ("00", "15", "30", "45"), ("00", "25", "50")
_HALF_DAYS = (12.0, 24.0, 36.0, 48.0)
"""Hours that oil is left to settle by those who leave it."""


class MinutesQuestion(NamedTuple):
    """What is asked about a column, and the cell that shows it.

    unknown : whether numbers without a unit are unknown then. behind_a_point : what is behind the point is asked
    """

    message: str
    value: str
    unknown: bool = False
    behind_a_point: bool = False


def minutes_question(texts: pl.Series, kind: Kind, *, header: str | None, cells: pl.Series) -> MinutesQuestion | None:
    """The question about a column of times, if there is one.

    texts : String, the distinct ones as typed. header : where it names no unit, else None. cells : all of the column,
    String or Categorical
    """
    if kind == "run hours":
        question = _behind_a_point(texts, cells)
        return None if question is None else question._replace(behind_a_point=True)
    if kind != "settling time" or header is None:
        return None
    example = _without_a_unit(texts)
    if example is None:
        return None
    message = (
        f"times such as {example} without a unit: minutes or hours? Write '{header} min' or '{header} h' above them; "
        "until then none of them is known"
    )
    return MinutesQuestion(message, header, unknown=True)


def unit_question(read: pl.DataFrame, texts: pl.Series, *, unit: str, cells: pl.Series) -> MinutesQuestion | None:
    """The question about numbers of 2 or more in a column of settling times, nearly all of which are in another unit.

    read : of the distinct texts, their unit as typed, null where they have none. unit : of the column
    """
    typed = texts.cast(pl.String).str.strip_chars()
    bare = typed.filter(read["unit"].is_null() & typed.str.contains(PLAIN).fill_null(value=False))
    odd = bare.filter(bare.cast(pl.Float64, strict=False) >= FEWEST_MINUTES)
    factor = unit_factor(unit, "settling time").factor
    named = read["unit"].drop_nulls().unique(maintain_order=True)
    if odd.is_empty() or named.is_empty() or any(unit_factor(one, "settling time").factor == factor for one in named):
        return None
    count = int(cells.cast(pl.String).str.strip_chars().is_in(bare.implode()).sum())
    if 2 * count >= cells.count():
        return None
    message = (
        f"'{odd[0]}' has no unit, and all others have '{named[0]}': is it {named[0]} or {unit}? Write the unit; "
    )
    return MinutesQuestion(f"{message}until then no such time is known", str(odd[0]), unknown=True)


def _behind_a_point(texts: pl.Series, cells: pl.Series) -> MinutesQuestion | None:
    """Numbers such as 12.30 that may be hours and minutes: every one has two decimals, as minutes have, under 60.

    Others in the column are times, and they are not all quarters of an hour; or they are quarters of an hour only if
    they are minutes; or they are so many that some would be over 59 if they were decimals.
    """
    typed = texts.drop_nulls().str.strip_chars()
    decimals = typed.filter(typed.str.contains(r"^\d{1,3}[.,]\d+$"))
    minutes = decimals.str.extract(r"[.,](\d+)$")
    if decimals.len() < FEWEST_TIMES or not minutes.str.contains(r"^[0-5]\d$").all():
        return None
    example = str(decimals[0])
    read = "Then write a colon; it is read as decimal hours, which are fewer"
    if typed.str.contains(r"^\d{1,3}:\d\d$").any() and not minutes.is_in(_NO_QUARTERS).all():
        return MinutesQuestion(
            f"times such as 12:30 stand beside {example}: is it hours and minutes? {read}", example
        )
    quarters = minutes.is_in(_QUARTERS).all() and minutes.is_in(["15", "45"]).any()
    if not quarters or decimals.len() < FEWEST_QUARTERS:
        odd = decimals.filter(~minutes.is_in(_NO_QUARTERS))
        count = int(cells.cast(pl.String).str.strip_chars().is_in(odd.implode()).sum())
        if count < FEWEST_UNDER_60:
            return None
        return MinutesQuestion(f"no decimals are over 59: is {odd[0]} hours and minutes? {read}", str(odd[0]))
    shown = str(decimals.filter(minutes.is_in(["15", "45"]))[0])
    return MinutesQuestion(f"decimals are 00, 15, 30 and 45 only: is {shown} hours and minutes? {read}", shown)


def _without_a_unit(texts: pl.Series) -> str | None:
    """A bare number such as 15 that is likely minutes, as most are: whole, from 2 to 60, not half a day or a day."""
    typed = texts.drop_nulls().str.strip_chars()
    bare = typed.filter(typed.str.contains(PLAIN))
    number = bare.cast(pl.Float64, strict=False)
    likely = (number == number.round()) & number.is_between(FEWEST_MINUTES, 60) & ~number.is_in(_HALF_DAYS)
    return str(bare.filter(likely)[0]) if 2 * int(likely.sum()) > bare.len() else None
