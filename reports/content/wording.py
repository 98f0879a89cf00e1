"""Numbers and dates in words; a value that is not known is named in words, never shown as a number."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

UNKNOWN = "not known"
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def finite_number(value: Any) -> float | None:
    """A cell as a finite number, else None."""
    if value is None or isinstance(value, bool):
        return None
    result = float(value)
    return result if math.isfinite(result) else None


def hours(value: float | None) -> str:
    """Hours to a tenth, with the unit."""
    return UNKNOWN if value is None else f"{value:.1f} h"


def short_number(value: float) -> str:
    """Two significant digits, without an exponent."""
    return f"{value:.0f}" if abs(value) >= 10 else f"{value:.2g}"


def hours_range(low: float | None, high: float | None) -> str:
    """A range of hours, without the unit; empty where it is not known."""
    if low is None or high is None:
        return ""
    return f"{low:.1f} to {high:.1f}" if high < 1000 else f"{low:.1f} to over 1000"


def ratio(value: float | None, *, low: float | None = None, high: float | None = None) -> str:
    """An hours ratio or multiplier with its range, such as 0.62x (0.5 to 0.8)."""
    if value is None:
        return UNKNOWN
    if low is None or high is None:
        return f"{value:.2f}x"
    return f"{value:.2f}x ({short_number(low)} to {short_number(high)})"


def percent(value: float | None) -> str:
    """A probability in whole percent; only what is certain is 0 or 100 %."""
    if value is None:
        return UNKNOWN
    if 0.0 < value < 0.01:
        return "<1 %"
    if 0.99 < value < 1.0:
        return ">99 %"
    return f"{100.0 * value:.0f} %"


def as_date(value: Any) -> date | None:
    """A cell as a date; text is read as ISO 8601, and any other text is None."""
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    if isinstance(value, str):
        try:
            return date.fromisoformat(value.strip()[:10])
        except ValueError:
            return None
    return None


def day(value: date | None, beside: date | None = None) -> str:
    """A date in words, 20 Jun 2026; without the year if it is that of `beside`."""
    if value is None:
        return UNKNOWN
    text = f"{value.day} {_MONTHS[value.month - 1]}"
    return text if beside is not None and beside.year == value.year else f"{text} {value.year}"


def seen_day(value: date | None, as_of: date) -> str:
    """The day on which something was seen, for behind the word seen."""
    return "on a day not known: correct its row, or it stays" if value is None else day(value, as_of)


def weekday(value: date, beside: date | None = None) -> str:
    """A date with its day of the week, Sat 20 Jun."""
    return f"{_DAYS[value.weekday()]} {day(value, beside)}"


def day_range(low: date | None, high: date | None, *, beside: date) -> str:
    """A range of dates, with the month once if both ends share it; empty without a range."""
    if low is None or high is None or low == high:
        return ""
    if (low.year, low.month) == (high.year, high.month):
        return f"{low.day} to {day(high, beside)}"
    return f"{day(low, beside)} to {day(high, beside)}"


def days_away(value: date, as_of: date) -> str:
    """How many days a date is from the day of the report."""
    away = (value - as_of).days
    if away < 0:
        return f"{-away} {plural(-away, 'day')} ago"
    return {0: "today", 1: "tomorrow"}.get(away, f"in {away} days")


def plural(count: int, singular: str, *, many: str | None = None) -> str:
    """The word for this many: unit, units."""
    return singular if count == 1 else many or f"{singular}s"


def counted(count: int, singular: str) -> str:
    """A count with its word: 1 unit, 3 units."""
    return f"{grouped(count)} {plural(count, singular)}"


def grouped(count: int) -> str:
    """A count in groups of three digits."""
    return f"{count:,}".replace(",", "\u202f")


def listed(items: list[str]) -> str:
    """Items in a sentence: a, b and c."""
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}" if items else ""


def first_few(names: Sequence[str], most: int) -> str:
    """The first names in a sentence, and how many more there are."""
    more = len(names) - most
    return listed(list(names)) if more <= 0 else f"{', '.join(names[:most])} and {more} more"


def sentence(text: str) -> str:
    """Text as a sentence: a capital first, one full stop last."""
    trimmed = text.strip()
    if not trimmed:
        return ""
    return f"{trimmed[0].upper()}{trimmed[1:]}{'' if trimmed[-1] in '.!?' else '.'}"


def isolated(name: str) -> str:
    """A name written from right to left, isolated so that it does not turn the line around it; any other as it is.

    Source: Unicode Standard Annex 9, section 2.4 (isolates).
    """
    right_to_left = any(unicodedata.bidirectional(letter) in ("R", "AL", "AN") for letter in name)
    return f"\u2068{name}\u2069" if right_to_left else name
