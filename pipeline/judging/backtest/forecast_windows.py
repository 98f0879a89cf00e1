"""Windows of a backtest: its origins, and the drains or readings between one origin and the next.

Tashman, L. J. (2000), Out-of-sample tests of forecasting accuracy, Int. J. Forecasting 16, 437-450 (rolling origin).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl

FEWEST_ROWS = 20
"""Fewest rated drains, or readings, for a backtest: with fewer, half of them would be too few to score."""

FEWEST_BEFORE = 10
"""Fewest before an origin."""

FEWEST_PREDICTED = 5

SHARE_BEFORE = 0.4
"""Share of the rows before the first origin."""


@dataclass(frozen=True, slots=True)
class Window:
    """Rows from `origin` on and before `until` (None: to the end of the log), predicted from those before it."""

    origin: date
    until: date | None

    def before(self, day: str = "drained_on") -> pl.Expr:
        """Selects the rows known at the origin."""
        return pl.col(day) < self.origin

    def inside(self, day: str = "drained_on") -> pl.Expr:
        """Selects the rows to predict."""
        begun = pl.col(day) >= self.origin
        return begun if self.until is None else begun & (pl.col(day) < self.until)


def windows(days: pl.Series, origins: int, *, of: str = "rated drain") -> tuple[Window, ...] | str:
    """At most `origins` windows with about equally many rows each, or the reason why there are none, as a sentence.

    days : dates of the rows, in any order; of : what a row is, in words.
    """
    if days.len() < FEWEST_ROWS:
        return (
            f"the log has {days.len()} {of}s with known hours; from {FEWEST_ROWS} on, earlier predictions "
            "can be tested"
        )
    counts = days.value_counts().sort(days.name)
    distinct = counts[days.name].to_list()
    before = counts["count"].cum_sum().to_numpy() - counts["count"].to_numpy()
    if len(distinct) < 2:
        return f"every {of} has the same date, so none came after a prediction"
    possible = np.flatnonzero(before >= FEWEST_BEFORE)
    if possible.size == 0:
        return f"fewer than {FEWEST_BEFORE} {of}s lie before the log's last date, too few to predict it from"
    index = int(np.searchsorted(before[possible], SHARE_BEFORE * days.len()))
    first = int(possible[min(index, possible.size - 1)])
    marks = np.linspace(before[first], days.len(), origins, endpoint=False)
    chosen = np.unique(np.minimum(np.searchsorted(before, marks), len(distinct) - 1))
    starts = [distinct[index] for index in chosen.tolist()]
    return tuple(Window(start, until) for start, until in zip(starts, [*starts[1:], None], strict=True))
