"""The watch over units: each unit's sum over time, with the threshold past which it has turned."""

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
    PETROL_PALE,
    SOFT,
    axes_at,
    drawing_style,
    resize,
)
from draincurve.reports.figures.line_names import name_lines

MOST_OTHERS = 60
MOST_TICKS = 5
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_LINE_STYLES = ("-", "--", "-.", ":")


@dataclass(frozen=True, slots=True)
class WatchPath:
    """One unit's drains and sums; `turned` paths are drawn strong and named."""

    name: str
    drained_on: NDArray[np.datetime64]
    sums: NDArray[np.float64]
    turned: bool


def draw_turned(figure: Figure, paths: Sequence[WatchPath], threshold: float, width: float = 560.0) -> None:
    """Draw the sums of all paths; those of ordinary units stay pale, at most `MOST_OTHERS` of them."""
    resize(figure, width, 250.0)
    with drawing_style():
        axes = axes_at(figure, left=40.0, top=14.0, right=120.0, bottom=40.0)
        for path in [path for path in paths if not path.turned][:MOST_OTHERS]:
            axes.plot(_days(path), path.sums, color=PETROL_PALE, linewidth=0.8)
        turned = [path for path in paths if path.turned]
        for place, path in enumerate(turned):
            style = _LINE_STYLES[place % len(_LINE_STYLES)]
            axes.plot(_days(path), path.sums, style, color=AMBER, linewidth=1.8)
            axes.plot([_days(path)[-1]], [path.sums[-1]], "^", color=AMBER, markersize=6.5)
        axes.axhline(threshold, color=SOFT, linewidth=1.0, linestyle=(0, (4, 3)))
        top = max([1.15 * threshold, *(1.08 * float(path.sums.max()) for path in turned)])
        axes.set_ylim(0.0, top)
        _name_lines(axes, turned, threshold, top)
        axes.set_xlim(min(_days(path)[0] for path in paths), max(_days(path)[-1] for path in paths) + 5.0)
        months = _month_ticks(paths)
        axes.set_xticks(months.astype("datetime64[D]").astype(float), [_month_name(month) for month in months])
        axes.grid(axis="y", color=GRID)
        axes.set_axisbelow(True)
        axes.set_ylabel("dirtier than expected, summed up")


def _days(path: WatchPath) -> NDArray[np.float64]:
    return path.drained_on.astype("datetime64[D]").astype(float)


def _month_ticks(paths: Sequence[WatchPath]) -> NDArray[np.datetime64]:
    """Starts of months within all drains, no more than `MOST_TICKS` of them, evenly spaced."""
    first = min(path.drained_on[0] for path in paths).astype("datetime64[M]") + 1
    last = max(path.drained_on[-1] for path in paths).astype("datetime64[M]")
    span = max(1, int((last - first).astype(int)) + 1)
    step = next(step for step in (1, 2, 3, 4, 6, *range(12, span + 24, 12)) if span <= step * MOST_TICKS)
    return np.asarray(first + np.arange(0, span, step))


def _month_name(month: np.datetime64) -> str:
    year, number = str(month).split("-")
    return f"{_MONTHS[int(number) - 1]} {year}"


def _name_lines(axes: Axes, turned: Sequence[WatchPath], threshold: float, top: float) -> None:
    """Names right of the axes, apart from each other, and the threshold's own."""
    names = [(threshold, "turned above this", SOFT), *((float(p.sums[-1]), p.name, AMBER) for p in turned)]
    name_lines(axes, names, 0.0, top, 0.065 * top, longest=18)
