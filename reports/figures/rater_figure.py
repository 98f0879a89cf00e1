"""Raters against each other: levels by which each rates dirtier or cleaner, with ranges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from draincurve.reports.figures.figure_style import (
    AMBER,
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

LINE_HEIGHT = 24.0


@dataclass(frozen=True, slots=True)
class RaterLine:
    """One rater in one channel: levels dirtier (above 0) or cleaner than the others, with a 90 % range."""

    channel: str
    name: str
    levels: float
    low: float
    high: float
    named: bool


def draw_raters(figure: Figure, lines: Sequence[RaterLine], width: float = 460.0) -> None:
    """Draw one line a rater, grouped by channel; named raters have a filled triangle, others an open diamond."""
    channels = list(dict.fromkeys(line.channel for line in lines))
    rows = len(lines) + len(channels)
    resize(figure, width, 12.0 + LINE_HEIGHT * rows + 46.0)
    with drawing_style():
        axes = axes_at(figure, left=128.0, top=8.0, right=108.0, bottom=44.0)
        reach = 1.1 * max(0.6, *(max(abs(line.low), abs(line.high)) for line in lines))
        axes.set_xlim(-reach, reach)
        axes.set_ylim(rows - 0.4, -0.6)
        axes.axvline(0.0, color=SOFT, linewidth=1.0)
        place = 0
        for channel in channels:
            _label(axes, channel, place, SOFT, bold=True)
            place += 1
            for line in (line for line in lines if line.channel == channel):
                _line(axes, line, place)
                place += 1
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        axes.grid(axis="x", color=GRID)
        axes.set_axisbelow(True)
        axes.set_xlabel("levels: cleaner than the others, dirtier than the others")


def _line(axes: Axes, line: RaterLine, place: int) -> None:
    colour = AMBER if line.named else PETROL
    mark = (">" if line.levels > 0 else "<") if line.named else "D"
    axes.plot([line.low, line.high], [place, place], color=colour, linewidth=2.0, solid_capstyle="butt")
    axes.plot(
        [line.levels],
        [place],
        mark,
        color=colour,
        markerfacecolor=colour if line.named else PAPER,
        markersize=7.5 if line.named else 5.5,
    )
    _label(axes, line.name, place, INK, bold=False)
    axes.annotate(
        f"{line.levels:+.1f} ({line.low:+.1f} to {line.high:+.1f})",
        (1.0, place),
        xycoords=("axes fraction", "data"),
        xytext=(6.0, 0.0),
        textcoords="offset points",
        va="center",
        fontsize=SMALL_TEXT,
        color=INK if line.named else SOFT,
    )


def _label(axes: Axes, text: str, place: int, colour: str, bold: bool) -> None:
    """Text left of the axes: a channel's name at the margin, a rater's beside its line."""
    axes.annotate(
        plain(text, 18),
        (0.0, place),
        xycoords=("axes fraction", "data"),
        xytext=(-122.0 if bold else -8.0, 0.0),
        textcoords="offset points",
        ha="left" if bold else "right",
        va="center",
        fontsize=SMALL_TEXT + 0.5 if bold else TEXT_SIZE,
        color=colour,
        weight="bold" if bold else "normal",
    )
