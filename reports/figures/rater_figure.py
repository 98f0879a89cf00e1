"""Raters compared: levels by which each rates dirtier or cleaner than the others, with ranges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from draincurve.reports.figures.figure_style import AMBER, INK, PETROL, SOFT, Margins, label_text, single_axes
from draincurve.reports.figures.row_axes import draw_range, label_group, label_row, label_value, set_rows

ROW_HEIGHT = 24.0
_MARGINS = Margins(left=128.0, top=8.0, right=108.0, bottom=44.0)


@dataclass(frozen=True, slots=True)
class RaterShiftRow:
    """One rater in one channel: levels dirtier (above 0) or cleaner than the others, with a 90 % range.

    called : whether the rater is called harsher or more lenient.
    """

    channel: str
    name: str
    levels: float
    low: float
    high: float
    called: bool


def signed_levels(levels: float) -> str:
    """Levels with their sign; without one if they round to 0."""
    return f"{levels:+.1f}" if abs(levels) >= 0.05 else "0.0"


def draw_raters(figure: Figure, shifts: Sequence[RaterShiftRow]) -> None:
    """Draw one row for each rater, grouped by channel: a filled triangle for raters called, else an open diamond."""
    channels = list(dict.fromkeys(shift.channel for shift in shifts))
    rows = len(shifts) + len(channels)
    with single_axes(figure, width=460.0, height=58.0 + ROW_HEIGHT * rows, margins=_MARGINS) as axes:
        end = 1.1 * max(0.6, *(max(abs(shift.low), abs(shift.high)) for shift in shifts))
        axes.set_xlim(-end, end)
        axes.axvline(0.0, color=SOFT, linewidth=1.0)
        set_rows(axes, rows)
        row = 0
        for channel in channels:
            label_group(axes, label_text(channel, 18), row=row, offset=-122.0)
            row += 1
            for shift in (shift for shift in shifts if shift.channel == channel):
                _draw_rater(axes, shift, row=row)
                row += 1
        axes.set_xlabel("levels against the other raters: cleaner to the left, dirtier to the right")


def _draw_rater(axes: Axes, shift: RaterShiftRow, *, row: int) -> None:
    marker = (">" if shift.levels > 0 else "<") if shift.called else "D"
    draw_range(
        axes,
        (shift.low, shift.levels, shift.high),
        row=row,
        marker=marker,
        colour=AMBER if shift.called else PETROL,
        filled=shift.called,
        size=7.5 if shift.called else 5.5,
    )
    label_row(axes, label_text(shift.name, 18), row=row)
    words = f"{signed_levels(shift.levels)} ({signed_levels(shift.low)} to {signed_levels(shift.high)})"
    label_value(axes, words, row=row, colour=INK if shift.called else SOFT)
