"""Calendar dates along an axis: days as numbers, and ticks that name day or month, with the year where it begins."""

from __future__ import annotations

from datetime import date
from typing import Any

import matplotlib.dates
from matplotlib.axes import Axes

_dates: Any = matplotlib.dates  # its functions have no types
_FIRST_DAY = date(1970, 1, 1)
_MOST_TICKS = 5
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_number(day: date) -> float:
    """Where a date stands on a date axis: days since 1 January 1970."""
    return float((day - _FIRST_DAY).days)


def label_dates(axes: Axes, first: float, last: float) -> None:
    """Set the limits of the x axis and name at most about five dates within them.

    first, last : as `day_number` gives them.  A tick names its month, or the day where several are in one month; its
    second line is the year, on the first tick and where another year begins.
    """
    begin, end = _dates.num2date(first), _dates.num2date(last)
    ticks = _dates.AutoDateLocator(minticks=2, maxticks=_MOST_TICKS, interval_multiples=True).tick_values(begin, end)
    days = sorted({_dates.num2date(tick).date() for tick in ticks if first <= tick <= last})
    by_month = all(day.day == 1 for day in days)
    labels, year = [], 0
    for day in days:
        name = _MONTHS[day.month - 1] if by_month else f"{day.day} {_MONTHS[day.month - 1]}"
        labels.append(name if day.year == year else f"{name}\n{day.year}")
        year = day.year
    axes.set_xlim(first, last)
    axes.set_xticks([day_number(day) for day in days], labels)
