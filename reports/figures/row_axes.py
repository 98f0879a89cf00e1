"""Axes with one row for each item: its name left of the axes, a range with a mark, its value right of the axes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FixedLocator, NullLocator

from draincurve.reports.figures.figure_style import INK, PAPER, SMALL_TEXT, SOFT, TEXT_SIZE, grid_behind

_TICKS = (0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0, 3.0, 5.0, 10.0, 20.0)


def set_rows(axes: Axes, rows: int) -> None:
    """Rows 0 to rows - 1 from the top down."""
    axes.set_ylim(rows - 0.4, -0.6)
    axes.yaxis.set_visible(False)
    axes.spines["left"].set_visible(False)
    grid_behind(axes, "x")


def set_multiplier_axis(
    axes: Axes, ranges: Sequence[tuple[float, float]], *, narrowest: tuple[float, float], widest: float
) -> tuple[float, float]:
    """A log axis of multipliers with a line at 1; returns its ends.

    ranges : low and high of each row.  narrowest : the axis holds at least these.  widest : and at most 1/widest to
    widest.
    """
    start = max(1.0 / widest, 0.92 * min([narrowest[0], *(low for low, _ in ranges)]))
    end = min(widest, 1.08 * max([narrowest[1], *(high for _, high in ranges)]))
    ticks = [tick for tick in _TICKS if start <= tick <= end]
    axes.set_xscale("log")
    axes.set_xlim(start, end)
    axes.axvline(1.0, color=SOFT, linewidth=1.0)
    axes.xaxis.set_major_locator(FixedLocator(ticks))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.set_xticklabels([f"{tick:g}x" for tick in ticks])
    return start, end


def draw_range(
    axes: Axes,
    points: tuple[float, float, float],
    *,
    row: int,
    marker: str,
    colour: str,
    filled: bool,
    size: float,
) -> None:
    """A range as a line and its middle as a mark; points : low, middle, high, cut to the axis."""
    low, middle, high = np.clip(points, *axes.get_xlim())
    axes.plot([low, high], [row, row], color=colour, linewidth=2.0, solid_capstyle="butt")
    axes.plot([middle], [row], marker, color=colour, markerfacecolor=colour if filled else PAPER, markersize=size)


def label_group(axes: Axes, text: str, *, row: int, offset: float) -> None:
    """The heading of the rows below it, at the left margin; offset : from the axes."""
    _annotate(axes, text, row=row, edge=0.0, offset=(offset, 0.0), ha="left", fontsize=SMALL_TEXT + 0.5, color=SOFT,
              weight="bold")  # fmt: skip


def label_row(
    axes: Axes, text: str, *, row: int, lift: float = 0.0, size: float = TEXT_SIZE, colour: str = INK
) -> None:
    """The name of a row, left of the axes; lift : above the middle of the row."""
    _annotate(axes, text, row=row, edge=0.0, offset=(-8.0, lift), ha="right", fontsize=size, color=colour)


def label_value(
    axes: Axes, text: str, *, row: int, lift: float = 0.0, offset: float = 6.0, colour: str = INK, bold: bool = False
) -> None:
    """The value of a row in words, right of the axes."""
    _annotate(axes, text, row=row, edge=1.0, offset=(offset, lift), ha="left", fontsize=SMALL_TEXT, color=colour,
              weight="bold" if bold else "normal")  # fmt: skip


def _annotate(axes: Axes, text: str, *, row: int, edge: float, offset: tuple[float, float], **style: Any) -> None:
    """Text beside a row; edge : 0 for the left edge of the axes, 1 for the right."""
    axes.annotate(
        text,
        (edge, row),
        xycoords=("axes fraction", "data"),
        xytext=offset,
        textcoords="offset points",
        va="center",
        **style,
    )
