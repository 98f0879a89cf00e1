"""Services expected in each of the next weeks, with their ranges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from draincurve.reports.figures.figure_style import (
    INK,
    PETROL_MID,
    SMALL_TEXT,
    Margins,
    grid_behind,
    label_text,
    single_axes,
)

_MARGINS = Margins(left=46.0, top=12.0, right=12.0, bottom=44.0)


@dataclass(frozen=True, slots=True)
class WeekBar:
    """One week: its first day in words, services expected, and their 10 % and 90 % points."""

    begins: str
    expected: float
    low: float
    high: float


def draw_forecast(figure: Figure, weeks: Sequence[WeekBar]) -> None:
    """Draw one bar for each week, with a line over its range."""
    with single_axes(figure, width=600.0, height=230.0, margins=_MARGINS) as axes:
        positions = np.arange(len(weeks), dtype=float)
        lows, highs = [week.low for week in weeks], [week.high for week in weeks]
        axes.bar(positions, [week.expected for week in weeks], width=0.6, color=PETROL_MID)
        ranges = np.array([[low, high, np.nan] for low, high in zip(lows, highs, strict=True)]).ravel()
        axes.plot(np.repeat(positions, 3), ranges, color=INK, linewidth=1.6, solid_capstyle="butt")
        for ends in (lows, highs):
            axes.plot(positions, ends, linestyle="none", marker="_", markersize=9, markeredgewidth=1.6, color=INK)
        axes.set_ylim(0.0, 1.12 * max(1.0, *highs))
        axes.set_xlim(-0.6, len(weeks) - 0.4)
        axes.set_xticks(positions, [label_text(week.begins, 12) for week in weeks], fontsize=SMALL_TEXT)
        axes.yaxis.set_major_locator(MaxNLocator(nbins=5, integer=True))
        grid_behind(axes, "y")
        axes.set_xlabel("week beginning")
        axes.set_ylabel("services [count]")
