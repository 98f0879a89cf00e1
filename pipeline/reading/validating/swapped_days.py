"""Dates whose day and month are swapped: rows that only fit among those around them in the file the other way round.

A spreadsheet takes 04/05 for a date of its own order where the day is up to 12, and nobody sees it in 2026-05-04.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise

import numpy as np

SWAP_COST = 0.05
"""What a swapped date counts against a step back in time: a whole month of them may explain two such steps."""
MOST_STEPS_BACK = 0.1
"""Share of the steps that may still lead back once swapped dates are put right: rows that somebody adds late."""
FEWEST_SWAPPED, FAR_TOO_LATE = 3, timedelta(days=45)
"""Swapped dates from which they are no rows that somebody merely added late; of fewer one is so much too late."""
FEWEST_ROWS, MOST_ROWS = 8, 20_000
"""Rows of a file that may show its order; rows of a log that people have typed."""


def swapped_days(parts: Sequence[Sequence[date]]) -> list[dict[int, date]]:
    """Of each part of a file in order of date, the positions of swapped dates, with the day that each likely is.

    All are empty where the parts are in no order even then.

    >>> days = [date(2026, 4, day) for day in (13, 17, 20, 24, 26, 28, 30)]
    >>> swapped_days([[*days, date(2026, 12, 5), date(2026, 5, 14)]])
    [{7: datetime.date(2026, 5, 12)}]
    """
    nothing: list[dict[int, date]] = [{} for _ in parts]
    rows = sum(map(len, parts))
    if not FEWEST_ROWS <= rows <= MOST_ROWS:
        return nothing
    newest_first = sum((a > b) - (a < b) for days in parts for a, b in pairwise(days)) > 0
    found, steps, left = [], 0, 0
    for days in parts:
        swaps, back = _swaps(days[::-1] if newest_first else days)
        if newest_first:
            swaps = {len(days) - 1 - at: day for at, day in swaps.items()}
        found.append(swaps)
        steps, left = steps + max(0, len(days) - 1), left + back
    swapped = [(days[at], day) for days, of_part in zip(parts, found, strict=True) for at, day in of_part.items()]
    sure = len(swapped) >= FEWEST_SWAPPED or any(typed - day > FAR_TOO_LATE for typed, day in swapped)
    # As many rows have a day over 12, which cannot be swapped, or the dates are merely on one day of each month.
    few = len(swapped) <= sum(day.day > 12 for days in parts for day in days)
    return found if sure and few and left <= MOST_STEPS_BACK * steps else nothing


def _swaps(days: Sequence[date]) -> tuple[dict[int, date], int]:
    """The swapped dates of one part, and the steps back that remain; the fewest of both (Viterbi 1967)."""
    back = sum(a > b for a, b in pairwise(days))
    if not back:
        return {}, 0
    options = [(day, _other(day)) for day in days]
    typed = np.array([[one.toordinal(), 0 if other is None else other.toordinal()] for one, other in options])
    own = np.array([[0.0, np.inf if other is None else SWAP_COST] for _, other in options])
    cost, came_from = own[0], np.zeros(typed.shape, dtype=np.intp)
    for at in range(1, len(days)):
        step = cost[:, None] + (typed[at - 1][:, None] > typed[at])
        came_from[at] = step.argmin(axis=0)
        cost = step.min(axis=0) + own[at]
    state, chosen = int(cost.argmin()), {}
    for at in range(len(days) - 1, -1, -1):
        other = options[at][1]
        if state and other is not None:
            chosen[at] = other
        state = int(came_from[at][state])
    right = [chosen.get(at, day) for at, day in enumerate(days)]
    return chosen, sum(a > b for a, b in pairwise(right))


def _other(day: date) -> date | None:
    """The date with day and month swapped, where that is another one."""
    return date(day.year, day.day, day.month) if day.day <= 12 and day.day != day.month else None
