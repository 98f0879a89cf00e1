"""Pairs of springs: hours multipliers with their ranges on a log axis, and the band that makes no difference."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, NullLocator

from draincurve.pipeline.judging.springs.comparison import SpringPair
from draincurve.pipeline.judging.springs.verdicts import CANNOT_TELL, SHEDS_LESS, SHEDS_MORE
from draincurve.reports.figures.figure_style import (
    AMBER,
    GRID,
    INK,
    PAPER,
    PETROL,
    PETROL_PALE,
    SMALL_TEXT,
    SOFT,
    TEXT_SIZE,
    axes_at,
    drawing_style,
    plain,
    resize,
)

LINE_HEIGHT = 36.0
_TICKS = (0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0, 3.0, 5.0, 10.0, 20.0)
_WIDEST = 20.0
_MARKERS = {SHEDS_MORE: "v", SHEDS_LESS: "^", CANNOT_TELL: "D"}


def draw_spring_effects(figure: Figure, pairs: Sequence[SpringPair], practical: float, width: float = 480.0) -> None:
    """Draw one line a pair; 1 is the spring compared with.

    practical : multipliers from 1/practical to practical make no practical difference; drawn as a band.
    """
    resize(figure, width, 30.0 + LINE_HEIGHT * len(pairs) + 46.0)
    with drawing_style():
        axes = axes_at(figure, left=132.0, top=26.0, right=126.0, bottom=44.0)
        bottom = max(1.0 / _WIDEST, 0.92 * min(0.6, *(pair.low for pair in pairs)))
        top = min(_WIDEST, 1.08 * max(1.7, *(pair.high for pair in pairs)))
        axes.set_xscale("log")
        axes.set_xlim(bottom, top)
        axes.set_ylim(len(pairs) - 0.4, -0.6)
        _band(axes, practical)
        for place, pair in enumerate(pairs):
            _line(axes, pair, place, bottom, top)
        ticks = [tick for tick in _TICKS if bottom <= tick <= top]
        axes.xaxis.set_major_locator(FixedLocator(ticks))
        axes.xaxis.set_minor_locator(NullLocator())
        axes.set_xticklabels([f"{tick:g}x" for tick in ticks])
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        axes.grid(axis="x", color=GRID)
        axes.set_axisbelow(True)
        axes.set_xlabel("hours to a rating, the other spring = 1x")


def _band(axes: Axes, practical: float) -> None:
    """The band of no practical difference, shaded and labelled."""
    axes.axvspan(1.0 / practical, practical, color=PETROL_PALE, linewidth=0.0, zorder=0.5)
    axes.axvline(1.0, color=SOFT, linewidth=1.0)
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


def _line(axes: Axes, pair: SpringPair, place: int, bottom: float, top: float) -> None:
    low, high = np.clip([pair.low, pair.high], bottom, top)
    inseparable = pair.p_value is None
    colour = SOFT if inseparable else AMBER if pair.verdict == SHEDS_MORE else PETROL
    style = (0, (2.0, 2.0)) if inseparable else "solid"
    axes.plot([low, high], [place, place], color=colour, linewidth=2.0, linestyle=style, solid_capstyle="butt")
    axes.plot(
        [np.clip(pair.hours_multiplier, bottom, top)],
        [place],
        _MARKERS.get(pair.verdict, "o"),
        color=colour,
        markerfacecolor=PAPER if pair.verdict == CANNOT_TELL else colour,
        markersize=6.0,
    )
    for text, drop, size, ink in (
        (plain(pair.spring_type, 20), 5.0, TEXT_SIZE, INK),
        (f"against {plain(pair.compared_with, 16)}", -8.0, SMALL_TEXT, SOFT),
    ):
        _beside(axes, text, place, (0.0, -8.0, "right"), drop, size, ink)
    for text, drop, size, ink in (
        (pair.verdict, 5.0, SMALL_TEXT, INK if pair.verdict != CANNOT_TELL else SOFT),
        (f"{pair.hours_multiplier:.2f}x ({pair.low:.2g} to {pair.high:.2g})", -8.0, SMALL_TEXT, SOFT),
    ):
        _beside(axes, text, place, (1.0, 6.0, "left"), drop, size, ink)


def _beside(
    axes: Axes, text: str, place: int, where: tuple[float, float, str], drop: float, size: float, ink: str
) -> None:
    """Text beside a line; where : (edge as a share of the axes, offset from it, alignment)."""
    edge, offset, align = where
    axes.annotate(
        text,
        (edge, place),
        xycoords=("axes fraction", "data"),
        xytext=(offset, drop),
        textcoords="offset points",
        ha="right" if align == "right" else "left",
        va="center",
        fontsize=size,
        color=ink,
    )
