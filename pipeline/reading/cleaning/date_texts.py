"""All dates that one text may mean: a certain one, or one for each order of day, month and year."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal

from draincurve.pipeline.reading.cleaning.date_forms import day_of_another_form, period_of
from draincurve.pipeline.reading.cleaning.marks_beside import without_marks
from draincurve.pipeline.reading.cleaning.month_names import month_number
from draincurve.pipeline.reading.cleaning.weekday_names import weekdays
from draincurve.pipeline.reading.cleaning.word_cells import is_blank

Order = Literal["day first", "month first", "year first"]
ORDERS: tuple[Order, ...] = ("day first", "month first", "year first")

NO_DATE = "is no date: write it like 2026-03-04 (year-month-day)"
NO_YEAR = "has no year: write it with one, like 2026-03-04 (year-month-day)"

_CLOCK = (
    r"(?:[ T,]+(?:(?:at|um|à|a las|alle|om|kl\.?) )?\d{1,2}"
    r"(?::\d{2}.*|[.h]\d{2}(?: ?(?:h|uhr|am|pm))?| ?(?:h|uhr|heures?|am|pm|a\.m\.|p\.m\.)))?"
)
_THREE = re.compile(rf"(\d{{1,4}})([./\- ])\s*(\d{{1,2}})\2\s*(\d{{1,4}})\.?{_CLOCK}", re.DOTALL | re.IGNORECASE)
_DAY_ALONE = re.compile(r"\d{1,2}\.?")
_TWO = re.compile(r"\d{1,2}[./\-]\d{1,2}\.?")
_COMPACT = re.compile(r"(\d{4})(\d{2})(\d{2})")
_SERIAL = re.compile(r"(\d{5})(?:\.\d+)?")
_BEFORE = r"(?:(?:the|on|le|am|den|der|vom|il|el|lo|di|du|del|day)\b[.,]*\s+)?"
_DAY_NAME = re.compile(
    rf"{_BEFORE}(\d{{1,2}})(?:st|nd|rd|th|er|[.°º])?[\s\-./]*(?:de |of |di |d[’'])?([^\W\d]+)\.?,?"
    rf"[\s\-./]*(?:de |of |del |di )?['’]?(\d{{2,4}}){_CLOCK}"
)
_NAME_DAY = re.compile(rf"([^\W\d]+)\.?[\s\-./]*(\d{{1,2}})(?:st|nd|rd|th)?,?[\s\-./]+(\d{{2,4}}){_CLOCK}")
_YEAR_NAME = re.compile(rf"(\d{{4}})[\s\-./,]+([^\W\d]+)\.?[\s\-./]+(\d{{1,2}})\.?{_CLOCK}")
_NAMED = ((_DAY_NAME, (1, 2, 3)), (_NAME_DAY, (2, 1, 3)), (_YEAR_NAME, (3, 2, 1)))
"""Forms with the month by its name, and the groups that hold day, month and year."""
_WEEKDAY = re.compile(
    r"(?:(?P<before>[^\W\d]{2,10})[.,]*\s+(?P<date>\d.*|[^\W\d]+\.?\s+\d.*)|(?P<first>\d.*\d\.?),?\s*\(?(?P<behind>[^\W\d]{2,10})\.?\)?)"
)
_WITH_WORDS = re.compile(r"(\d{4}-\d\d-\d\d)[T ][^\d?]*")
"""A date written in full, with words behind it."""
_ROUGH = re.compile(
    r"(?:(?:~|≈|(?:ca|circa|about|approx|env|aprox)\b\.?)\s*)?(?P<date>.*?\d\.?)\s*\(?\??\)?", re.IGNORECASE
)
FAR_YEARS = 80
"""Years from today within which a year is likely meant as one."""
_SHEET_START = date(1899, 12, 30)
_SERIALS = (25569, 80000)
"""Day numbers of workbooks that are taken for dates: 1970 to 2119."""


@dataclass(frozen=True, slots=True)
class PossibleDates:
    """The meanings of one text: one certain date, or a date for each possible order, or why it is no date.

    by_order : as in ORDERS. separator : the mark between day, month and year. short_year : the year has two digits
    is_day_number : it is the number of a day in a workbook
    on : weekdays of which the text says that it is one, 0 for Monday; none where it does not say
    """

    certain: date | None = None
    by_order: tuple[date | None, date | None, date | None] = (None, None, None)
    separator: str = ""
    short_year: bool = False
    is_day_number: bool = False
    on: frozenset[int] = frozenset()
    reason: str | None = None
    note: str | None = None


def possible_dates(text: str, as_of: date) -> PossibleDates:
    """All dates that one text may mean."""
    typed = re.sub(r"\s+", " ", text.strip())
    if is_blank(typed):
        return PossibleDates()
    with_words = _WITH_WORDS.fullmatch(typed)
    possible = _with_weekday(typed, as_of) or _plain_dates(typed if with_words is None else with_words[1], as_of)
    if possible.reason != NO_DATE:
        return possible
    if without_marks(typed) != typed:
        return PossibleDates(reason="holds a mark beside the date: write the date alone, like 2026-03-04")
    rough = _ROUGH.fullmatch(typed)
    if rough is None or rough["date"] == typed:
        return possible
    inner = _with_weekday(rough["date"], as_of) or _plain_dates(rough["date"], as_of)
    return inner if inner.reason else replace(inner, note=f"'{typed}' is approximate")


def _plain_dates(typed: str, as_of: date) -> PossibleDates:
    """All dates that a text without a weekday may mean."""
    three = _THREE.fullmatch(typed)
    if three is not None:
        dates = _three_numbers(three[1], three[3], third=three[4], as_of=as_of)
        return replace(dates, separator=three[2])
    compact = _COMPACT.fullmatch(typed)
    if compact is not None:
        return _eight_digits(typed, as_of)
    serial = _SERIAL.fullmatch(typed)
    if serial is not None and _SERIALS[0] <= int(serial[1]) <= _SERIALS[1]:
        day = _SHEET_START + timedelta(days=int(serial[1]))
        note = f"'{typed}' is a workbook's day number: read as {day.isoformat()}"
        return PossibleDates(certain=day, is_day_number=True, note=note)
    named = _named_month(typed, as_of)
    if named is not None:
        return named
    other = day_of_another_form(typed)
    if other is not None:
        return _certain(other.day)
    # Any leap year will do to see whether a year is all that is missing.
    if _TWO.fullmatch(typed) or _named_month(f"{typed} 2000", as_of) is not None:
        return PossibleDates(reason=NO_YEAR)
    if _DAY_ALONE.fullmatch(typed):
        return PossibleDates(reason="has no month and no year: write the date in full, like 2026-03-04")
    period = period_of(typed)
    if period is not None:
        return PossibleDates(reason=f"names a {period} and no day: write the day, like 2026-03-04 (year-month-day)")
    return PossibleDates(reason=NO_DATE)


def _with_weekday(typed: str, as_of: date) -> PossibleDates | None:
    """The dates of a text with a weekday before or behind the date; None without one."""
    match = _WEEKDAY.fullmatch(typed)
    on = weekdays(match["before"] or match["behind"]) if match is not None else frozenset()
    if match is None or not on:
        return None
    possible = _plain_dates(match["date"] or match["first"], as_of)
    if possible.reason:
        return None
    day = possible.certain
    return PossibleDates(reason=wrong_weekday(day)) if day and day.weekday() not in on else replace(possible, on=on)


def wrong_weekday(day: date) -> str:
    """Why a text with a weekday is no date."""
    return f"the weekday does not fit: {day.isoformat()} is a {day.strftime('%A')}; correct the wrong one of the two"


def _three_numbers(first: str, second: str, *, third: str, as_of: date) -> PossibleDates:
    """Day, month and year in an order that the text alone may leave open."""
    if len(first) == 4:
        return _certain(_day(int(first), int(second), day=int(third)))
    if len(first) == 2 and len(third) == 1:
        year_first = _day(_century(int(first), as_of), int(second), day=int(third))
        return _by_order((None, None, year_first), short_year=True)
    if len(first) > 2 or len(third) not in (2, 4):
        return PossibleDates(reason=NO_DATE)
    a, b, c = int(first), int(second), int(third)
    short = len(third) == 2
    year = _century(c, as_of) if short else c
    year_first = _day(_century(a, as_of), b, day=c) if short and len(first) == 2 else None
    return _by_order((_day(year, b, day=a), _day(year, a, day=b), year_first), short_year=short)


def _eight_digits(typed: str, as_of: date) -> PossibleDates:
    """Eight digits with the year in front or, where that is no likely date, at the end."""
    day = _day(int(typed[:4]), int(typed[4:6]), day=int(typed[6:]))
    if day is None or abs(day.year - as_of.year) > FAR_YEARS:
        last = _three_numbers(typed[:2], typed[2:4], third=typed[4:], as_of=as_of)
        if any(other and abs(other.year - as_of.year) <= FAR_YEARS for other in last.by_order):
            return replace(last, separator="8 digits")
    return _certain(day)


def _by_order(days: tuple[date | None, date | None, date | None], *, short_year: bool) -> PossibleDates:
    return PossibleDates(by_order=days, short_year=short_year) if any(days) else _certain(None)


def _named_month(typed: str, as_of: date) -> PossibleDates | None:
    """Dates such as 4 Mar 2026, March 4th, 2026, 1er août 2026 and 4-Mär-26."""
    for pattern, (day_at, month_at, year_at) in _NAMED:
        match = pattern.fullmatch(typed)
        month = month_number(match[month_at]) if match is not None else None
        if match is not None and month is not None and len(match[year_at]) != 3:
            year = int(match[year_at])
            year = _century(year, as_of) if len(match[year_at]) == 2 else year
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
