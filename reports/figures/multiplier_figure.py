"""Hours multipliers of springs, oils and the rest, each against the fleet's average level, with ranges."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, NullLocator

from draincurve.pipeline.judging.evidence import Multiplier
from draincurve.reports.figures.figure_style import (
    GRID,
    INK,
    PAPER,
    PETROL,
    SMALL_TEXT,
    SOFT,
    TEXT_SIZE,
    axes_at,
    drawing_style,
    plain,
    resize,
)

LINE_HEIGHT = 22.0
_TICKS = (0.1, 0.2, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0, 3.0, 5.0, 10.0)
_WIDEST = 10.0


def draw_multipliers(figure: Figure, multipliers: Sequence[Multiplier], width: float = 420.0) -> None:
    """Draw one line a level, grouped by term, on a log axis of multipliers (1 is the fleet's average)."""
    terms = list(dict.fromkeys(item.term for item in multipliers))
    lines = len(multipliers) + len(terms)
    resize(figure, width, 12.0 + LINE_HEIGHT * lines + 46.0)
    with drawing_style():
        axes = axes_at(figure, left=128.0, top=8.0, right=98.0, bottom=44.0)
        bottom = max(1.0 / _WIDEST, 0.92 * min(0.75, *(item.low for item in multipliers)))
        top = min(_WIDEST, 1.08 * max(1.35, *(item.high for item in multipliers)))
        axes.set_xscale("log")
        axes.set_xlim(bottom, top)
        axes.set_ylim(lines - 0.4, -0.6)
        axes.axvline(1.0, color=SOFT, linewidth=1.0)
        place = 0
        for term in terms:
            axes.annotate(
                term,
                (0.0, place),
                xycoords=("axes fraction", "data"),
                xytext=(-122.0, 0.0),
                textcoords="offset points",
                va="center",
                fontsize=SMALL_TEXT + 0.5,
                color=SOFT,
                weight="bold",
            )
            place += 1
            for item in (item for item in multipliers if item.term == term):
                _line(axes, item, place, bottom, top)
                place += 1
        ticks = [tick for tick in _TICKS if bottom <= tick <= top]
        axes.xaxis.set_major_locator(FixedLocator(ticks))
        axes.xaxis.set_minor_locator(NullLocator())
        axes.set_xticklabels([f"{tick:g}x" for tick in ticks])
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        axes.grid(axis="x", color=GRID)
        axes.set_axisbelow(True)
        axes.set_xlabel("hours to the limit, fleet's average level = 1x")


def _line(axes: Axes, item: Multiplier, place: int, bottom: float, top: float) -> None:
    low, high = np.clip([item.low, item.high], bottom, top)
    clear = item.high < 1.0 or item.low > 1.0
    axes.plot([low, high], [place, place], color=PETROL, linewidth=2.0, solid_capstyle="butt")
    axes.plot(
        [np.clip(item.multiplier, bottom, top)],
        [place],
        "o" if clear else "D",
        color=PETROL,
        markerfacecolor=PETROL if clear else PAPER,
        markersize=6.5 if clear else 5.5,
    )
    axes.annotate(
        plain(item.level, 18),
        (0.0, place),
        xycoords=("axes fraction", "data"),
        xytext=(-8.0, 0.0),
        textcoords="offset points",
        ha="right",
        va="center",
        fontsize=TEXT_SIZE,
    )
    axes.annotate(
        f"{item.multiplier:.2f}x ({item.low:.2g} to {item.high:.2g})",
        (1.0, place),
        xycoords=("axes fraction", "data"),
        xytext=(6.0, 0.0),
        textcoords="offset points",
        va="center",
        fontsize=SMALL_TEXT,
        color=INK if clear else SOFT,
    )
