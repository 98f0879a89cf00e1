"""A measured quantity by hours: readings, the fleet's line with its range, each unit's line, and the limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from draincurve.reports.figures.figure_style import (
    AMBER,
    DASHED,
    PAPER,
    PETROL,
    PETROL_MID,
    PETROL_PALE,
    SOFT,
    Margins,
    drawing_style,
    grid_behind,
    label_text,
    panels,
)
from draincurve.reports.figures.line_labels import label_lines
from draincurve.schemas.array_types import Floats

MOST_DOTS = 1500
LABEL_GAP = 0.07
"""Least distance of two labels right of the axes, as a share of the height of the axes."""
_MARGINS = Margins(left=54.0, top=14.0, right=132.0, bottom=42.0)


@dataclass(frozen=True, slots=True)
class Crossing:
    """Hours at which a line meets a limit: 5, 50 and 95 % points, None beyond what was measured.

    height : of the limit
    """

    low: float
    middle: float | None
    high: float | None
    height: float


@dataclass(frozen=True, slots=True)
class UnitLine:
    """One unit's line over hours; named ones are drawn strong, with where they meet the limit."""

    name: str
    hours: Floats
    values: Floats
    named: bool
    crossing: Crossing | None = None


@dataclass(frozen=True, slots=True)
class WearPlot:
    """What is drawn of one quantity.

    readings, earlier : hours and values of readings on the parts fitted now, and on earlier parts
    band : hours, low, middle and high of the fleet's line; None without a fit
    limits, looks : heights of the limit and of values worth a look, with their labels
    farthest : hours beyond which nothing was measured [h]; None where not known
    """

    readings: tuple[Floats, Floats]
    earlier: tuple[Floats, Floats]
    band: tuple[Floats, Floats, Floats, Floats] | None
    lines: tuple[UnitLine, ...]
    limits: tuple[tuple[float, str], ...]
    looks: tuple[tuple[float, str], ...]
    farthest: float | None
    x_label: str
    y_label: str


def draw_wear(figure: Figure, plot: WearPlot, *, width: float = 600.0) -> None:
    """Draw one quantity."""
    with drawing_style():
        (axes,) = panels(figure, [_MARGINS], width=width, height=280.0)
        low, high = _value_limits(plot)
        _draw_fleet(axes, plot)
        for line in plot.lines:
            colour, line_width = (AMBER, 1.7) if line.named else (PETROL_MID, 0.8)
            axes.plot(line.hours, line.values, color=colour, linewidth=line_width)
        _draw_readings(axes, plot)
        for value, _ in plot.limits:
            axes.axhline(value, color=SOFT, linewidth=1.1, linestyle=DASHED)
        for line in plot.lines:
            if line.crossing is not None:
                _draw_crossing(axes, line.crossing, end=_hours_end(plot))
        for value, _ in plot.looks:
            axes.axhline(value, color=SOFT, linewidth=0.7, linestyle=(0, (1, 3)))
        axes.set_xlim(0.0, _hours_end(plot))
        axes.set_ylim(low, high)
        _label_lines(axes, plot, low=low, high=high)
        grid_behind(axes, "y")
        axes.set_xlabel(plot.x_label)
        axes.set_ylabel(label_text(plot.y_label, 44))


def _draw_fleet(axes: Axes, plot: WearPlot) -> None:
    if plot.band is None:
        return
    hours, low, middle, high = plot.band
    axes.fill_between(hours, low, high, color=PETROL_PALE, alpha=0.35, linewidth=0)
    axes.plot(hours, middle, color=PETROL, linewidth=1.6, linestyle=(0, (6, 2)))


def _draw_crossing(axes: Axes, crossing: Crossing, *, end: float) -> None:
    """A bar over the range of the crossing, open to the right where it ends beyond what was measured."""
    ends = [crossing.low, end if crossing.high is None else crossing.high]
    axes.plot(ends, [crossing.height] * 2, color=AMBER, linewidth=3.0, alpha=0.6, solid_capstyle="butt", zorder=3)
    if crossing.middle is not None:
        axes.plot([crossing.middle], [crossing.height], "D", markersize=4.5, color=AMBER, zorder=4)


def _draw_readings(axes: Axes, plot: WearPlot) -> None:
    for (hours, values), face in ((plot.earlier, PAPER), (plot.readings, PETROL)):
        shown = slice(None, None, max(1, -(-hours.size // MOST_DOTS)))
        axes.plot(hours[shown], values[shown], "o", markersize=4.0, markerfacecolor=face, markeredgecolor=PETROL,
                  markeredgewidth=0.8, linestyle="none")  # fmt: skip


def _hours_end(plot: WearPlot) -> float:
    ends = [float(hours.max()) for hours, _ in (plot.readings, plot.earlier) if hours.size]
    return max([*ends, plot.farthest or 0.0, 1.0]) * 1.02


def _value_limits(plot: WearPlot) -> tuple[float, float]:
    """Ends of the value axis: all readings, limits and lines fit in; the fleet's band may be cut.

    What was never read below 0 is not drawn below it, wherever a line leads.
    """
    heights = np.array([value for value, _ in (*plot.limits, *plot.looks)])
    values = np.concatenate([plot.readings[1], plot.earlier[1], heights, *(line.values for line in plot.lines)])
    values = values[np.isfinite(values)]
    low, high = (float(values.min()), float(values.max())) if values.size else (0.0, 1.0)
    room = 0.07 * (high - low) or max(abs(high), 1.0) * 0.1
    never_negative = not any((shown < 0).any() for shown in (plot.readings[1], plot.earlier[1], heights))
    return (max(0.0, low - room) if never_negative else low - room), high + room


def _label_lines(axes: Axes, plot: WearPlot, *, low: float, high: float) -> None:
    """Names of limits and of named lines, right of the axes."""
    labels = [(value, text, SOFT) for value, text in (*plot.limits, *plot.looks)]
    labels += [(float(line.values[-1]), line.name, AMBER) for line in plot.lines if line.named]
    label_lines(axes, labels, low=low, high=high, gap=LABEL_GAP * (high - low), longest=20)
