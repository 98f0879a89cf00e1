"""Dates as typed: every reading of each distinct text, then one order of day and month for the whole file."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import polars as pl

from draincurve.pipeline.reading.cleaning.quantity_cells import is_blank
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
class Readings:
    """What one text may mean: one fixed date, or a date by each order that is possible, or a reason."""

    fixed: date | None = None
    by_order: tuple[date | None, date | None, date | None] = (None, None, None)
    short_year: bool = False
    reason: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class ReadDates:
    """A column of dates: date, reason and note for every row, the order that was settled, and how it is known."""

    frame: pl.DataFrame
    order: Order | None
    proof: str | None


def read_dates(texts: pl.Series, declared: Order | None, as_of: date) -> ReadDates:
    """Dates of a column, read in one order.

    texts : String, shape (n,), as typed. declared : order from the settings or the header, or None to learn it.
    The frame has columns date (null where there is none), reason, note, shape (n,).
    """
    frame = pl.DataFrame({"text": texts.cast(pl.String)})
    iso = pl.col("text").str.contains(_ISO)
    day = pl.col("text").str.strip_chars().str.slice(0, 10).str.to_date("%Y-%m-%d", strict=False)
    frame = frame.with_columns(pl.when(iso).then(day).alias("iso"))
    odd = frame.filter(pl.col("iso").is_null() & pl.col("text").is_not_null()).get_column("text")
    readings = {text: readings_of(text, as_of) for text in odd.unique(maintain_order=True)}
    order, proof = settled_order(readings, declared, as_of)
    doubtful_year = order is None and _year_first_fits_better(readings, as_of)
    decided = [_decided(reading, order, doubtful_year) for reading in readings.values()]
    parsed = pl.DataFrame(
        {
            "text": pl.Series(list(readings), dtype=pl.String),
            "read": pl.Series([item[0] for item in decided], dtype=pl.Date),
            "reason": pl.Series([item[1] for item in decided], dtype=pl.String),
            "note": pl.Series([reading.note for reading in readings.values()], dtype=pl.String),
        }
    )
    joined = frame.join(parsed, on="text", how="left", maintain_order="left")
    return ReadDates(joined.select(pl.coalesce("iso", "read").alias("date"), "reason", "note"), order, proof)


def readings_of(text: str, as_of: date) -> Readings:
    """Every reading of one text."""
    typed = re.sub(r"\s+", " ", text.strip())
    if is_blank(typed):
        return Readings()
    three = _THREE.fullmatch(typed)
    if three is not None:
        return _three_numbers(three[1], three[3], three[4], as_of)
    compact = _COMPACT.fullmatch(typed)
    if compact is not None:
        return _fixed(_day(int(compact[1]), int(compact[2]), int(compact[3])))
    serial = _SERIAL.fullmatch(typed)
    if serial is not None and _SERIALS[0] <= int(serial[1]) <= _SERIALS[1]:
        day = _SHEET_START + timedelta(days=int(serial[1]))
        return Readings(fixed=day, note=f"'{typed}' is a workbook's day number: read as {day.isoformat()}")
    named = _named_month(typed, as_of)
    if named is not None:
        return named
    if _TWO.fullmatch(typed):
        return Readings(reason="has no year: write the date as 2026-03-04")
    return Readings(reason="is no date: write it as 2026-03-04")


def settled_order(
    readings: dict[str, Readings], declared: Order | None, as_of: date
) -> tuple[Order | None, str | None]:
    """The order of day and month of a file, and the text that proves it.

    Declared wins. Else a date that only one order makes possible (a day over 12) settles it; without one, a date
    that only one order puts between 1970 and today. Proof of both, or of neither, settles nothing. Dates with
    two-digit years that all read year first and then lie closer together settle nothing either.
    """
    if declared is not None:
        return declared, None
    open_texts = {text: item for text, item in readings.items() if item.fixed is None and any(item.by_order)}
    for plausible_only in (False, True):
        proofs: dict[Order, str] = {}
        for text, item in open_texts.items():
            day_first, month_first = (
                reading if reading is not None and (not plausible_only or _plausible(reading, as_of)) else None
                for reading in item.by_order[:2]
            )
            if (day_first is None) != (month_first is None):
                proofs.setdefault("day first" if month_first is None else "month first", text)
        if len(proofs) == 2:
            return None, None
        if proofs:
            order, proof = next(iter(proofs.items()))
            return (None, None) if _year_first_fits_better(open_texts, as_of) else (order, proof)
    return None, None


def _year_first_fits_better(readings: dict[str, Readings], as_of: date) -> bool:
    """Whether two-digit years may stand in front: all are possible so, and then span fewer days."""
    several = [item for item in readings.values() if item.fixed is None and any(item.by_order)]
    days = [day for item in several if (day := item.by_order[2]) is not None and _plausible(day, as_of)]
    if not several or len(days) < len(several) or not all(item.short_year for item in several):
        return False
    spans = [
        max(others) - min(others)
        for position in (0, 1)
        if len(others := [day for item in several if (day := item.by_order[position]) is not None]) == len(several)
    ]
    return max(days) - min(days) < min(spans, default=timedelta.max)


def _decided(reading: Readings, order: Order | None, doubtful_year: bool) -> tuple[date | None, str | None]:
    """Date of one text under the file's order, or the reason why there is none."""
    if reading.fixed is not None or reading.reason is not None or not any(reading.by_order):
        return reading.fixed, reading.reason
    if order is not None:
        day = reading.by_order[ORDERS.index(order)]
        return day, None if day is not None else f"is no date when it is read {order}"
    orders = 3 if doubtful_year else 2
    possible = sorted({day for day in reading.by_order[:orders] if day is not None})
    if len(possible) == 1:
        return possible[0], None
    if not possible:
        return None, "is no date: write it as 2026-03-04"
    return None, (
        f"may be {' or '.join(day.isoformat() for day in possible)}: "
        "set date_order in the settings, or write the date as 2026-03-04"
    )


def _three_numbers(first: str, second: str, third: str, as_of: date) -> Readings:
    """Day, month and year in an order that one text alone may not tell."""
    if len(first) == 4:
        return _fixed(_day(int(first), int(second), int(third)))
    if len(first) > 2 or len(third) not in (1, 2, 4) or len(third) == 1:
        if len(first) == 2 and len(third) == 1:
            return _in_orders(None, None, _day(_century(int(first), as_of), int(second), int(third)), True)
        return Readings(reason="is no date: write it as 2026-03-04")
    a, b, c = int(first), int(second), int(third)
    short = len(third) == 2
    year = _century(c, as_of) if short else c
    year_first = _day(_century(a, as_of), b, c) if short and len(first) == 2 else None
    return _in_orders(_day(year, b, a), _day(year, a, b), year_first, short)


def _in_orders(day_first: date | None, month_first: date | None, year_first: date | None, short: bool) -> Readings:
    readings = (day_first, month_first, year_first)
    return Readings(by_order=readings, short_year=short) if any(readings) else _fixed(None)


def _named_month(typed: str, as_of: date) -> Readings | None:
    """Dates such as 4 Mar 2026, March 4th, 2026 and 4-Mär-26."""
    for pattern, (day_at, month_at) in ((_DAY_NAME, (1, 2)), (_NAME_DAY, (2, 1))):
        match = pattern.fullmatch(typed)
        month = _MONTHS.get(match[month_at].casefold()) if match is not None else None
        if match is not None and month is not None and len(match[3]) != 3:
            year = int(match[3])
            return _fixed(_day(_century(year, as_of) if len(match[3]) == 2 else year, month, int(match[day_at])))
    return None


def _fixed(day: date | None) -> Readings:
    return Readings(fixed=day) if day is not None else Readings(reason="is no day of the calendar")


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _century(short: int, as_of: date) -> int:
    """Two-digit years lie within the last 80 years and the next 20."""
    return 2000 + short if short <= as_of.year - 2000 + 20 else 1900 + short


def _plausible(day: date, as_of: date) -> bool:
    return day.year >= EARLIEST_YEAR and day <= as_of
