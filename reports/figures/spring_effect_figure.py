"""Pairs of springs: hours multipliers with their ranges on a log axis, and the band of no practical difference."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from draincurve.pipeline.judging.springs import CANNOT_TELL, SHEDS_LESS, SHEDS_MORE, SpringPair
from draincurve.reports.figures.figure_style import (
    AMBER,
    INK,
    PETROL,
    PETROL_PALE,
    SMALL_TEXT,
    SOFT,
    Margins,
    label_text,
    single_axes,
)
from draincurve.reports.figures.row_axes import draw_range, label_row, label_value, set_multiplier_axis, set_rows

ROW_HEIGHT = 36.0
_MARGINS = Margins(left=132.0, top=26.0, right=126.0, bottom=44.0)
_MARKERS = {SHEDS_MORE: "v", SHEDS_LESS: "^", CANNOT_TELL: "D"}
_FIRST_LINE, _SECOND_LINE = 5.0, -8.0
"""Heights of the two lines of text beside a row, from its middle."""


def draw_spring_effects(figure: Figure, pairs: Sequence[SpringPair], *, practical: float) -> None:
    """Draw one row for each pair; 1 is the spring compared with.

    practical : multipliers from 1/practical to practical make no practical difference; drawn as a band.
    """
    with single_axes(figure, width=480.0, height=76.0 + ROW_HEIGHT * len(pairs), margins=_MARGINS) as axes:
        ranges = [(pair.low, pair.high) for pair in pairs if pair.low is not None and pair.high is not None]
        set_multiplier_axis(axes, ranges, narrowest=(0.6, 1.7), widest=20.0)
        set_rows(axes, len(pairs))
        _draw_band(axes, practical)
        for row, pair in enumerate(pairs):
            _draw_pair(axes, pair, row=row)
        axes.set_xlabel("hours to a rating, the other spring = 1x")


def _draw_band(axes: Axes, practical: float) -> None:
    """The band of no practical difference, shaded and labelled."""
    axes.axvspan(1.0 / practical, practical, color=PETROL_PALE, linewidth=0.0, zorder=0.5)
    axes.annotate(
        f"no practical difference: {1.0 / practical:.2f} to {practical:g}x",
        (1.0, 1.0),
        xycoords=("data", "axes fraction"),
        xytext=(0.0, 6.0),
        textcoords="offset points",
        ha="center",
        fontsize=SMALL_TEXT,
        color=SOFT,
    )


def _draw_pair(axes: Axes, pair: SpringPair, *, row: int) -> None:
    unclear = pair.verdict == CANNOT_TELL
    words = "not separable in this log"
    if pair.low is not None and pair.hours_multiplier is not None and pair.high is not None:
        draw_range(
            axes,
            (pair.low, pair.hours_multiplier, pair.high),
            row=row,
            marker=_MARKERS.get(pair.verdict, "o"),
            colour=AMBER if pair.verdict == SHEDS_MORE else PETROL,
            filled=not unclear,
            size=6.0,
        )
        words = f"{pair.hours_multiplier:.2f}x ({pair.low:.2g} to {pair.high:.2g})"
    label_row(axes, label_text(pair.spring_type, 20), row=row, lift=_FIRST_LINE)
    compared = f"against {label_text(pair.compared_with, 16)}"
    label_row(axes, compared, row=row, lift=_SECOND_LINE, size=SMALL_TEXT, colour=SOFT)
    label_value(axes, pair.verdict, row=row, lift=_FIRST_LINE, colour=SOFT if unclear else INK)
    label_value(axes, words, row=row, lift=_SECOND_LINE, colour=SOFT)
