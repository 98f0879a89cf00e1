"""Predicted risk against what happened: one mark for each bin of similar predictions, and the line of agreement."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator, PercentFormatter

from draincurve.pipeline.judging.backtest import CalibrationBin
from draincurve.reports.figures.figure_style import (
    AMBER,
    DASHED,
    INK,
    PAPER,
    PETROL,
    SMALL_TEXT,
    SOFT,
    Margins,
    accepted_label,
    grid_behind,
    single_axes,
)

_MARGINS = Margins(left=56.0, top=14.0, right=16.0, bottom=44.0)


def draw_calibration(figure: Figure, bins: Sequence[CalibrationBin], *, accepted_risk: float) -> None:
    """Draw the share past the limit with its 95 % interval over the predicted risk.

    A bin whose whole interval is above the line is an open amber diamond: more drains were past the limit than
    predicted.
    """
    end = min(1.0, 1.08 * max((max(item.predicted, item.high) for item in bins), default=1.0))
    with single_axes(figure, width=420.0, height=350.0, margins=_MARGINS) as axes:
        axes.set_xlim(0.0, end)
        axes.set_ylim(0.0, end)
        axes.plot([0.0, end], [0.0, end], color=INK, linewidth=1.0)
        axes.axvline(accepted_risk, color=AMBER, linewidth=1.0, linestyle=DASHED)
        for item in bins:
            _draw_bin(axes, item)
        if accepted_risk < end:
            axes.annotate(
                accepted_label(accepted_risk),
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
        grid_behind(axes, "both")
        axes.set_xlabel("predicted chance of being past the limit")
        axes.set_ylabel("share that was past the limit")


def _draw_bin(axes: Axes, item: CalibrationBin) -> None:
    """The interval of a bin as a bar, its share as a mark."""
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
