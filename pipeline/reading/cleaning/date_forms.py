"""Dates by the week of the year and of East Asia, and texts that name a week or a month."""

from __future__ import annotations

import re
from datetime import date
from typing import NamedTuple

from draincurve.pipeline.reading.cleaning.month_names import month_number

_WEEK_DATE = re.compile(r"(\d{4})-?W(\d{2})-?([1-7])", re.IGNORECASE)
_EAST_ASIAN = re.compile(
    r"(?P<era>令和|平成)?\s*(?P<year>\d{1,4}|元)\s*年\s*(?P<month>\d{1,2})\s*月\s*(?P<day>\d{1,2})\s*日"
    r"\s*(?:[(（]?[月火水木金土日](?:曜日?)?[)）]?)?(?:\s*\d{1,2}(?::\d{2}|時).*)?"
)
_ERAS = {"令和": 2018, "平成": 1988}
"""Year before the first of an era."""
_WEEK = re.compile(
    r"(?:\d{4}[\s/-]*)?(?:w|wk|week|kw|kalenderwoche|woche|sem|semaine|semana|settimana|vecka|v)\.?[\s-]*\d{1,2}"
    r"(?:[\s/.-]+(?:of )?\d{2,4})?",
    re.IGNORECASE,
)
_MONTH_NUMBER = re.compile(r"(?:0?[1-9]|1[0-2])\s*[/.-]\s*(?:19|20)\d\d|(?:19|20)\d\d\s*[/.-]\s*(?:0?[1-9]|1[0-2])")
_MONTH_NAME = re.compile(r"(?P<month>[^\W\d]+)\.?[\s,.'’/-]*\d{4}|(?P<alone>[^\W\d]+)")


class ReadDay(NamedTuple):
    """The day of a text; None where it is no day of the calendar."""

    day: date | None


def day_of_another_form(typed: str) -> ReadDay | None:
    """The day of 2026-W03-2 or 2026年3月4日; None for a text of another form.

    >>> day_of_another_form("2026-W03-2")
    ReadDay(day=datetime.date(2026, 1, 13))
    """
    week, east = _WEEK_DATE.fullmatch(typed), _EAST_ASIAN.fullmatch(typed)
    try:
        if week is not None:
            return ReadDay(date.fromisocalendar(int(week[1]), int(week[2]), int(week[3])))
        if east is not None:
            year = 1 if east["year"] == "元" else int(east["year"])
            return ReadDay(date(year + _ERAS.get(east["era"] or "", 0), int(east["month"]), int(east["day"])))
    except ValueError:
        return ReadDay(None)
    return None


def period_of(typed: str) -> str | None:
    """What a text names without a day of it, "week" or "month"; None where it names neither.

    >>> period_of("KW 9 2026"), period_of("Jan 2026"), period_of("2026-01-04")
    ('week', 'month', None)
    """
    if _WEEK.fullmatch(typed):
        return "week"
    match = _MONTH_NAME.fullmatch(typed)
    named = match is not None and month_number(match["month"] or match["alone"]) is not None
    return "month" if named or _MONTH_NUMBER.fullmatch(typed) else None
