"""Predicted risk against what came: one mark a bin of like predictions, on the line where both agree."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator, PercentFormatter

from draincurve.pipeline.judging.backtest.calibration import CalibrationBin
from draincurve.reports.figures.figure_style import (
    AMBER,
    GRID,
    INK,
    PAPER,
    PETROL,
    SMALL_TEXT,
    SOFT,
    axes_at,
    drawing_style,
    resize,
)


def draw_calibration(
    figure: Figure, bins: Sequence[CalibrationBin], accepted_risk: float, width: float = 420.0
) -> None:
    """Draw the share past the limit with its 95 % interval over the predicted risk.

    A bin whose whole interval lies over the line is drawn as an open amber diamond: more came than was said.
    """
    resize(figure, width, 350.0)
    end = min(1.0, 1.08 * max((max(item.predicted, item.high) for item in bins), default=1.0))
    with drawing_style():
        axes = axes_at(figure, left=56.0, top=14.0, right=16.0, bottom=44.0)
        axes.set_xlim(0.0, end)
        axes.set_ylim(0.0, end)
        axes.plot([0.0, end], [0.0, end], color=INK, linewidth=1.0)
        axes.axvline(accepted_risk, color=AMBER, linewidth=1.0, linestyle=(0, (5, 3)))
        for item in bins:
            _mark(axes, item)
        if accepted_risk < end:
            axes.annotate(
                f"accepted {100.0 * accepted_risk:.3g} %",
                (accepted_risk, end),
                xytext=(4.0, -2.0),
                textcoords="offset points",
                va="top",
                fontsize=SMALL_TEXT,
                color=AMBER,
            )
        axes.text(0.99 * end, 0.66 * end, "line: as predicted", ha="right", va="top", fontsize=SMALL_TEXT, color=SOFT)
        for axis in (axes.xaxis, axes.yaxis):
            axis.set_major_formatter(PercentFormatter(1.0, decimals=0, symbol=" %"))
            axis.set_major_locator(MaxNLocator(nbins=5, steps=[1, 2, 5, 10]))
        axes.grid(color=GRID)
        axes.set_axisbelow(True)
        axes.set_xlabel("predicted chance of past the limit")
        axes.set_ylabel("share that was past the limit")


def _mark(axes: Axes, item: CalibrationBin) -> None:
    """One bin: its interval as a bar, its share as a mark."""
    over = item.low > item.predicted
    colour = AMBER if over else PETROL
    axes.plot([item.predicted] * 2, [item.low, item.high], color=colour, linewidth=1.4)
    axes.plot(
        [item.predicted],
        [item.share],
        "D" if over else "o",
        color=colour,
        markerfacecolor=PAPER if over else PETROL,
        markersize=6.5,
        clip_on=False,
    )
