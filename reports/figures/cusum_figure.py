"""Each unit's cumulative sum over time, with the threshold above which the unit counts as turned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from draincurve.reports.figures.figure_style import AMBER, PETROL_PALE, SOFT, Margins, grid_behind, single_axes
from draincurve.reports.figures.line_labels import label_lines
from draincurve.schemas.array_types import Dates, Floats

MOST_OTHERS = 60
MOST_TICKS = 5
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_LINE_STYLES = ("-", "--", "-.", ":")
_MARGINS = Margins(left=40.0, top=14.0, right=120.0, bottom=40.0)


@dataclass(frozen=True, slots=True)
class CusumPath:
    """One unit's dates of drains and cumulative sums, shape (n,); turned units are drawn strong and named."""

    name: str
    drained_on: Dates
    sums: Floats
    turned: bool


def draw_cusum(figure: Figure, paths: Sequence[CusumPath], *, threshold: float) -> None:
    """Draw the sums of all units; those that did not turn are pale, at most `MOST_OTHERS` of them."""
    with single_axes(figure, width=560.0, height=250.0, margins=_MARGINS) as axes:
        for path in [path for path in paths if not path.turned][:MOST_OTHERS]:
            axes.plot(_days(path), path.sums, color=PETROL_PALE, linewidth=0.8)
        turned = [path for path in paths if path.turned]
        for index, path in enumerate(turned):
            style = _LINE_STYLES[index % len(_LINE_STYLES)]
            axes.plot(_days(path), path.sums, style, color=AMBER, linewidth=1.8)
            axes.plot([_days(path)[-1]], [path.sums[-1]], "^", color=AMBER, markersize=6.5)
        axes.axhline(threshold, color=SOFT, linewidth=1.0, linestyle=(0, (4, 3)))
        top = max([1.15 * threshold, *(1.08 * float(path.sums.max()) for path in turned)])
        axes.set_ylim(0.0, top)
        _label_paths(axes, turned, threshold=threshold, top=top)
        axes.set_xlim(min(_days(path)[0] for path in paths), max(_days(path)[-1] for path in paths) + 5.0)
        months = _month_ticks(paths)
        axes.set_xticks(months.astype("datetime64[D]").astype(float), [_month_name(month) for month in months])
        grid_behind(axes, "y")
        axes.set_ylabel("dirtier than expected, summed up")


def _days(path: CusumPath) -> Floats:
    return path.drained_on.astype("datetime64[D]").astype(float)


def _month_ticks(paths: Sequence[CusumPath]) -> Dates:
    """First days of months within the dates of all drains, at most `MOST_TICKS` of them, evenly spaced."""
    first = min(path.drained_on[0] for path in paths).astype("datetime64[M]") + 1
    last = max(path.drained_on[-1] for path in paths).astype("datetime64[M]")
    span = max(1, int((last - first).astype(int)) + 1)
    step = next(step for step in (1, 2, 3, 4, 6, *range(12, span + 24, 12)) if span <= step * MOST_TICKS)
    return np.asarray(first + np.arange(0, span, step))


def _month_name(month: np.datetime64) -> str:
    year, number = str(month).split("-")
    return f"{_MONTHS[int(number) - 1]} {year}"


def _label_paths(axes: Axes, turned: Sequence[CusumPath], *, threshold: float, top: float) -> None:
    """Names of turned units and of the threshold, right of the axes."""
    labels = [(threshold, "turned above this", SOFT), *((float(path.sums[-1]), path.name, AMBER) for path in turned)]
    label_lines(axes, labels, low=0.0, high=top, gap=0.065 * top, longest=18)
