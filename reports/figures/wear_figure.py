"""A measured quantity over its clock: readings, the fleet's line with its range, each unit's line, and the limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from draincurve.reports.figures.figure_style import (
    AMBER,
    GRID,
    PAPER,
    PETROL,
    PETROL_MID,
    PETROL_PALE,
    SOFT,
    axes_at,
    drawing_style,
    plain,
    resize,
)
from draincurve.reports.figures.line_names import name_lines

Floats = NDArray[np.float64]

MOST_DOTS = 1500
TEXT_GAP = 0.07
"""Room between names right of the axes, as a share of their height."""


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """One unit's line over hours; named ones are drawn strong."""

    name: str
    hours: Floats
    values: Floats
    named: bool


@dataclass(frozen=True, slots=True)
class WearPlot:
    """What is drawn: dots of readings now and of earlier parts, the fleet's band, lines, limits, axis labels.

    readings, earlier : (hours, values);  band : hours, low, middle, high, None without a fit
    limits : values with their words;  farthest : hours beyond which nothing was measured, None where not known
    """

    readings: tuple[Floats, Floats]
    earlier: tuple[Floats, Floats]
    band: tuple[Floats, Floats, Floats, Floats] | None
    lines: tuple[DrawnLine, ...]
    limits: tuple[tuple[float, str], ...]
    looks: tuple[tuple[float, str], ...]
    farthest: float | None
    across: str
    upward: str


def draw_wear(figure: Figure, plot: WearPlot, width: float = 600.0) -> None:
    """Draw one quantity."""
    resize(figure, width, 280.0)
    with drawing_style():
        axes = axes_at(figure, left=54.0, top=14.0, right=132.0, bottom=42.0)
        low, high = _span(plot)
        _fleet(axes, plot)
        for line in plot.lines:
            colour, thick = (AMBER, 1.7) if line.named else (PETROL_MID, 0.8)
            axes.plot(line.hours, line.values, color=colour, linewidth=thick)
        _dots(axes, plot)
        for value, _ in plot.limits:
            axes.axhline(value, color=SOFT, linewidth=1.1, linestyle=(0, (5, 3)))
        for value, _ in plot.looks:
            axes.axhline(value, color=SOFT, linewidth=0.7, linestyle=(0, (1, 3)))
        axes.set_xlim(0.0, _right(plot))
        axes.set_ylim(low, high)
        _names(axes, plot, low, high)
        axes.grid(axis="y", color=GRID)
        axes.set_axisbelow(True)
        axes.set_xlabel(plot.across)
        axes.set_ylabel(plain(plot.upward, 44))


def _fleet(axes: Axes, plot: WearPlot) -> None:
    if plot.band is None:
        return
    hours, low, middle, high = plot.band
    axes.fill_between(hours, low, high, color=PETROL_PALE, alpha=0.35, linewidth=0)
    axes.plot(hours, middle, color=PETROL, linewidth=1.6, linestyle=(0, (6, 2)))


def _dots(axes: Axes, plot: WearPlot) -> None:
    for (hours, values), face in ((plot.earlier, PAPER), (plot.readings, PETROL)):
        shown = slice(None, None, max(1, -(-hours.size // MOST_DOTS)))
        axes.plot(hours[shown], values[shown], "o", markersize=4.0, markerfacecolor=face, markeredgecolor=PETROL,
                  markeredgewidth=0.8, linestyle="none")  # fmt: skip


def _right(plot: WearPlot) -> float:
    ends = [float(hours.max()) for hours, _ in (plot.readings, plot.earlier) if hours.size]
    return max([*ends, plot.farthest or 0.0, 1.0]) * 1.02


def _span(plot: WearPlot) -> tuple[float, float]:
    """Range upward: readings, limits and lines, with the fleet's band cut where it would press them flat."""
    firm = [plot.readings[1], plot.earlier[1], np.array([value for value, _ in (*plot.limits, *plot.looks)])]
    values = np.concatenate([*firm, *(line.values for line in plot.lines)])
    values = values[np.isfinite(values)]
    low, high = (float(values.min()), float(values.max())) if values.size else (0.0, 1.0)
    room = 0.07 * (high - low) or max(abs(high), 1.0) * 0.1
    return (max(0.0, low - room) if low >= 0 else low - room), high + room


def _names(axes: Axes, plot: WearPlot, low: float, high: float) -> None:
    """Names of limits and of named lines right of the axes, apart from each other."""
    gap = TEXT_GAP * (high - low)
    ends = [(float(line.values[-1]), line.name, AMBER) for line in plot.lines if line.named]
    name_lines(
        axes,
        [*((value, text, SOFT) for value, text in (*plot.limits, *plot.looks)), *ends],
        low,
        high,
        gap,
        longest=20,
    )


def described(title: str, named: Sequence[str]) -> str:
    """The picture in words, for those who do not see it."""
    first = f"{title} over hours: each reading, the fleet's line with the range of single readings, and the limit."
    return f"{first} Nearest to the limit: {', '.join(named)}." if named else first
