"""Dates far from the others of their column that are near them if the year comes first, or counted from 1904.

They may be either, so they are held back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import NamedTuple

import polars as pl

from draincurve.pipeline.reading.cleaning.date_texts import ORDERS, Order, PossibleDates

USUAL_YEARS = 5
"""Years before today in which dates are likely where no other date of the column says more."""
FROM_1904 = timedelta(days=1462)
"""How much later a day number is in a workbook that counts from 1904, as old ones do."""
FEWEST_OTHERS = 3
"""Dates that are no day numbers, from which they say which days are usual."""
_YEAR = timedelta(days=366)


@dataclass(frozen=True, slots=True)
class SettledOrder:
    """The order of day and month of the dates with one separator.

    order : None where it is unknown. proof : the text that proves it. by_today : it proves it only because the other
    order would put it in the future, or before 1970. contradiction : texts that prove both orders.
    doubtful_year : the year may come first
    """

    order: Order | None = None
    proof: str | None = None
    by_today: bool = False
    contradiction: tuple[str, str] | None = None
    doubtful_year: bool = False


class _UsualDays(NamedTuple):
    """Days between which, give or take, the dates of a column are likely."""

    first: date
    last: date
    give: timedelta

    def has(self, day: date) -> bool:
        """Whether a day is likely."""
        return self.first - day <= self.give and day - self.last <= self.give


def with_year_first(
    possible: Mapping[str, PossibleDates], orders: Mapping[str, SettledOrder], *, iso: pl.Series, as_of: date
) -> dict[str, PossibleDates]:
    """The same, but a date such as 26-03-04 that is not among the usual days, unless its year comes first, is none.

    iso : dates of the column that are written in full
    """
    if not any(item.short_year and item.by_order[2] for item in possible.values()):
        return dict(possible)
    certain = pl.Series([item.certain for item in possible.values()], dtype=pl.Date)
    usual = _usual_days(pl.concat([iso, certain]).drop_nulls(), as_of)
    return {
        text: _year_first(item, orders.get(item.separator, SettledOrder()), usual=usual)
        for text, item in possible.items()
    }


def with_day_numbers(
    possible: Mapping[str, PossibleDates], orders: Mapping[str, SettledOrder], *, iso: pl.Series
) -> dict[str, PossibleDates]:
    """The same, but a day number that is among the other dates only if a workbook counts it from 1904 is none."""
    numbers = {text: item.certain for text, item in possible.items() if item.is_day_number}
    if not any(numbers.values()):
        return dict(possible)
    others = [
        item.certain if settled.order is None else item.by_order[ORDERS.index(settled.order)]
        for item in possible.values()
        if not item.is_day_number
        for settled in (orders.get(item.separator, SettledOrder()),)
    ]
    certain = pl.concat([iso, pl.Series(others, dtype=pl.Date)]).drop_nulls()
    if certain.len() < FEWEST_OTHERS:
        return dict(possible)
    usual = _usual_days(certain, date.max)
    may_be_later = {
        text: day
        for text, day in numbers.items()
        if day is not None and not usual.has(day) and usual.has(day + FROM_1904)
    }
    return {text: _day_number(item, may_be_later.get(text)) for text, item in possible.items()}


def last_day_from_1904(possible: Mapping[str, PossibleDates], as_of: date) -> date | None:
    """The last of dates that are all day numbers, as read, if counting from 1904 makes a log of today; else None."""
    days = [item.certain for item in possible.values() if item.is_day_number and item.certain is not None]
    if not days or len(days) < sum(item.reason is None for item in possible.values()):
        return None
    return max(days) if timedelta(0) <= as_of - max(days) - FROM_1904 <= _YEAR else None


def _usual_days(certain: pl.Series, as_of: date) -> _UsualDays:
    """The range of nearly all certain dates, within a year; without any, the last years."""
    if certain.is_empty():
        return _UsualDays(as_of, as_of, USUAL_YEARS * _YEAR)
    days, slips = certain.sort(), certain.len() // 20
    return _UsualDays(days[slips], days[-1 - slips], _YEAR)


def _year_first(item: PossibleDates, settled: SettledOrder, *, usual: _UsualDays) -> PossibleDates:
    """What a date is that may have its year in front."""
    if settled.order is None or not item.short_year:
        return item
    read, year_first = item.by_order[ORDERS.index(settled.order)], item.by_order[2]
    if read is None or year_first is None or usual.has(read) or not usual.has(year_first):
        return item
    text = f"may be {read} or {year_first}: write the date as 2026-03-04, or set date_order in the settings"
    return PossibleDates(reason=text)


def _day_number(item: PossibleDates, day: date | None) -> PossibleDates:
    """What a day number is that may count from 1904; day : as counted from 1900, None where that is right."""
    if day is None:
        return item
    text = f"is a workbook's day number, {day} or, counted from 1904, {day + FROM_1904}: write the right one"
    return replace(item, certain=None, reason=text, note=None)
