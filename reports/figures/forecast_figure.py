"""Services of the next weeks: what is expected, and the range."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from draincurve.reports.figures.figure_style import (
    GRID,
    INK,
    PETROL_MID,
    SMALL_TEXT,
    axes_at,
    drawing_style,
    plain,
    resize,
)


@dataclass(frozen=True, slots=True)
class WeekBar:
    """One week: its first day in words, services expected, and their 10 and 90 % points."""

    begins: str
    expected: float
    low: float
    high: float


def draw_forecast(figure: Figure, weeks: Sequence[WeekBar], width: float = 600.0) -> None:
    """Draw one bar a week, with a line over its range."""
    resize(figure, width, 230.0)
    with drawing_style():
        axes = axes_at(figure, left=46.0, top=12.0, right=12.0, bottom=44.0)
        places = np.arange(len(weeks), dtype=float)
        axes.bar(places, [week.expected for week in weeks], width=0.6, color=PETROL_MID)
        ends = np.array([[week.low, week.high, np.nan] for week in weeks]).ravel()
        axes.plot(np.repeat(places, 3), ends, color=INK, linewidth=1.6, solid_capstyle="butt")
        for end in ([week.low for week in weeks], [week.high for week in weeks]):
            axes.plot(places, end, linestyle="none", marker="_", markersize=9, markeredgewidth=1.6, color=INK)
        axes.set_ylim(0.0, 1.12 * max(1.0, *(week.high for week in weeks)))
        axes.set_xlim(-0.6, len(weeks) - 0.4)
        axes.set_xticks(places, [plain(week.begins, 12) for week in weeks], fontsize=SMALL_TEXT)
        axes.yaxis.set_major_locator(MaxNLocator(nbins=5, integer=True))
        axes.grid(axis="y", color=GRID)
        axes.set_axisbelow(True)
        axes.set_xlabel("week beginning")
        axes.set_ylabel("services [count]")
