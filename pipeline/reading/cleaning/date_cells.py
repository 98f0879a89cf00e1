"""Cells that hold a date: all dates that each text may mean, then one order of day and month for the whole file."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import polars as pl

from draincurve.pipeline.reading.cleaning.word_cells import is_blank
from draincurve.schemas.columns import EARLIEST_YEAR

Order = Literal["day first", "month first", "year first"]
ORDERS: tuple[Order, ...] = ("day first", "month first", "year first")

_ISO = r"^\s*\d{4}-\d{2}-\d{2}([T ].*)?\s*$"
_CLOCK = r"(?:[ T,]+\d{1,2}:\d{2}.*)?"
_THREE = re.compile(rf"(\d{{1,4}})([./\- ])\s*(\d{{1,2}})\2\s*(\d{{1,4}})\.?{_CLOCK}", re.DOTALL)
_TWO = re.compile(r"\d{1,2}[./\-]\d{1,2}\.?")
_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})")
_SERIAL = re.compile(r"(\d{5})(?:\.\d+)?")
_DAY_NAME = re.compile(
    rf"(?:[^\W\d]+,?\s+)?(\d{{1,2}})(?:st|nd|rd|th|\.)?[\s\-./]*([^\W\d]+)\.?,?[\s\-./]*(\d{{2,4}}){_CLOCK}"
)
_NAME_DAY = re.compile(
    rf"(?:[^\W\d]+,\s+)?([^\W\d]+)\.?[\s\-./]*(\d{{1,2}})(?:st|nd|rd|th)?,?[\s\-./]+(\d{{2,4}}){_CLOCK}"
)
_SHEET_START = date(1899, 12, 30)
_SERIALS = (25569, 80000)
"""Day numbers of workbooks that are taken for dates: 1970 to 2119."""
_MONTHS = {
    word: month
    for month, words in enumerate(
        (
            "jan january januar",
            "feb february februar",
            "mar march mär märz maerz mrz",
            "apr april",
            "may mai",
            "jun june juni",
            "jul july juli",
            "aug august",
            "sep sept september",
            "oct october okt oktober",
            "nov november",
            "dec december dez dezember",
        ),
        start=1,
    )
    for word in words.split()
}


@dataclass(frozen=True, slots=True)
class PossibleDates:
    """What one text may mean: one certain date, or a date for each possible order, or the reason why it is none.

    by_order : as in ORDERS. short_year : the year has two digits
    """

    certain: date | None = None
    by_order: tuple[date | None, date | None, date | None] = (None, None, None)
    short_year: bool = False
    reason: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class ReadDates:
    """A column of dates: date, reason and note of each row; the order they are in, and the text that proves it."""

    frame: pl.DataFrame
    order: Order | None
    proof: str | None


def read_dates(texts: pl.Series, declared: Order | None, *, as_of: date) -> ReadDates:
    """Dates of a column, all in one order of day and month.

    texts : String, shape (n,), as typed. declared : order from the settings or the header; None finds it from the
    dates. The frame has columns date (null where there is none), reason and note, shape (n,).
    """
    frame = pl.DataFrame({"text": texts.cast(pl.String)})
    iso = pl.col("text").str.contains(_ISO)
    day = pl.col("text").str.strip_chars().str.slice(0, 10).str.to_date("%Y-%m-%d", strict=False)
    frame = frame.with_columns(pl.when(iso).then(day).alias("iso"))
    odd = frame.filter(pl.col("iso").is_null() & pl.col("text").is_not_null()).get_column("text")
    possible = {text: possible_dates(text, as_of) for text in odd.unique(maintain_order=True)}
    order, proof = order_of_dates(possible, declared, as_of=as_of)
    doubtful = order is None and _year_first_fits_better(possible, as_of)
    parsed = pl.DataFrame(
        [(text, *_in_order(dates, order, doubtful_year=doubtful), dates.note) for text, dates in possible.items()],
        schema={"text": pl.String, "read": pl.Date, "reason": pl.String, "note": pl.String},
        orient="row",
    )
    joined = frame.join(parsed, on="text", how="left", maintain_order="left")
    return ReadDates(joined.select(pl.coalesce("iso", "read").alias("date"), "reason", "note"), order, proof)


def possible_dates(text: str, as_of: date) -> PossibleDates:
    """All dates that one text may mean."""
    typed = re.sub(r"\s+", " ", text.strip())
    if is_blank(typed):
        return PossibleDates()
    three = _THREE.fullmatch(typed)
    if three is not None:
        return _three_numbers(three[1], three[3], third=three[4], as_of=as_of)
    compact = _COMPACT.fullmatch(typed)
    if compact is not None:
        return _certain(_day(int(compact[1]), int(compact[2]), day=int(compact[3])))
    serial = _SERIAL.fullmatch(typed)
    if serial is not None and _SERIALS[0] <= int(serial[1]) <= _SERIALS[1]:
        day = _SHEET_START + timedelta(days=int(serial[1]))
        return PossibleDates(certain=day, note=f"'{typed}' is a workbook's day number: read as {day.isoformat()}")
    named = _named_month(typed, as_of)
    if named is not None:
        return named
    if _TWO.fullmatch(typed):
        return PossibleDates(reason="has no year: write the date as 2026-03-04")
    return PossibleDates(reason="is no date: write it as 2026-03-04")


def order_of_dates(
    possible: dict[str, PossibleDates], declared: Order | None, *, as_of: date
) -> tuple[Order | None, str | None]:
    """The order of day and month of a file, and the text that proves it; None and None where it is unknown.

    A declared order wins. Otherwise a date that is possible in one order only (a day over 12) proves it; without
    one, a date that only one order puts between 1970 and today. Proofs of both orders prove neither. The order is
    also unknown where all years have two digits, may come first, and the dates are then closer together.
    """
    if declared is not None:
        return declared, None
    ambiguous = {text: item for text, item in possible.items() if item.certain is None and any(item.by_order)}
    for plausible_only in (False, True):
        proofs: dict[Order, str] = {}
        for text, item in ambiguous.items():
            day_first, month_first = (
                day if day is not None and (not plausible_only or _plausible(day, as_of)) else None
                for day in item.by_order[:2]
            )
            if (day_first is None) != (month_first is None):
                proofs.setdefault("day first" if month_first is None else "month first", text)
        if len(proofs) == 2:
            return None, None
        if proofs:
            order, proof = next(iter(proofs.items()))
            return (None, None) if _year_first_fits_better(ambiguous, as_of) else (order, proof)
    return None, None


def _year_first_fits_better(possible: dict[str, PossibleDates], as_of: date) -> bool:
    """Whether two-digit years may come first: every date allows it, and the dates then span fewer days."""
    several = [item for item in possible.values() if item.certain is None and any(item.by_order)]
    days = [day for item in several if (day := item.by_order[2]) is not None and _plausible(day, as_of)]
    if not several or len(days) < len(several) or not all(item.short_year for item in several):
        return False
    spans = [
        max(others) - min(others)
        for position in (0, 1)
        if len(others := [day for item in several if (day := item.by_order[position]) is not None]) == len(several)
    ]
    return max(days) - min(days) < min(spans, default=timedelta.max)


def _in_order(possible: PossibleDates, order: Order | None, *, doubtful_year: bool) -> tuple[date | None, str | None]:
    """Date of one text in the file's order, or the reason why there is none."""
    if possible.certain is not None or possible.reason is not None or not any(possible.by_order):
        return possible.certain, possible.reason
    if order is not None:
        day = possible.by_order[ORDERS.index(order)]
        return day, None if day is not None else f"is no date when it is read {order}: write it as 2026-03-04"
    orders = 3 if doubtful_year else 2
    days = sorted({day for day in possible.by_order[:orders] if day is not None})
    if len(days) == 1:
        return days[0], None
    if not days:
        return None, "is no date: write it as 2026-03-04"
    return None, (
        f"may be {' or '.join(day.isoformat() for day in days)}: "
        "set date_order in the settings, or write the date as 2026-03-04"
    )


def _three_numbers(first: str, second: str, *, third: str, as_of: date) -> PossibleDates:
    """Day, month and year in an order that the text alone may leave open."""
    if len(first) == 4:
        return _certain(_day(int(first), int(second), day=int(third)))
    if len(first) == 2 and len(third) == 1:
        year_first = _day(_century(int(first), as_of), int(second), day=int(third))
        return _by_order((None, None, year_first), short_year=True)
    if len(first) > 2 or len(third) not in (2, 4):
        return PossibleDates(reason="is no date: write it as 2026-03-04")
    a, b, c = int(first), int(second), int(third)
    short = len(third) == 2
    year = _century(c, as_of) if short else c
    year_first = _day(_century(a, as_of), b, day=c) if short and len(first) == 2 else None
    return _by_order((_day(year, b, day=a), _day(year, a, day=b), year_first), short_year=short)


def _by_order(days: tuple[date | None, date | None, date | None], *, short_year: bool) -> PossibleDates:
    return PossibleDates(by_order=days, short_year=short_year) if any(days) else _certain(None)


def _named_month(typed: str, as_of: date) -> PossibleDates | None:
    """Dates such as 4 Mar 2026, March 4th, 2026 and 4-Mär-26."""
    for pattern, (day_at, month_at) in ((_DAY_NAME, (1, 2)), (_NAME_DAY, (2, 1))):
        match = pattern.fullmatch(typed)
        month = _MONTHS.get(match[month_at].casefold()) if match is not None else None
        if match is not None and month is not None and len(match[3]) != 3:
            year = int(match[3])
            year = _century(year, as_of) if len(match[3]) == 2 else year
            return _certain(_day(year, month, day=int(match[day_at])))
    return None


def _certain(day: date | None) -> PossibleDates:
    return (
        PossibleDates(certain=day)
        if day is not None
        else PossibleDates(reason="is no day of the calendar: correct the date")
    )


def _day(year: int, month: int, *, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _century(short: int, as_of: date) -> int:
    """The year of two digits that is within the last 80 years or the next 20."""
    return 2000 + short if short <= as_of.year - 2000 + 20 else 1900 + short


def _plausible(day: date, as_of: date) -> bool:
    return day.year >= EARLIEST_YEAR and day <= as_of
