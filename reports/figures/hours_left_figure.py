"""Every unit's hours on its oil against its interval, the soonest due on top."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from draincurve.reports.figures.figure_style import (
    AMBER,
    AMBER_PALE,
    INK,
    PETROL,
    PETROL_MID,
    PETROL_PALE,
    SMALL_TEXT,
    SOFT,
    TEXT_SIZE,
    Margins,
    grid_behind,
    label_text,
    single_axes,
)

ROW_HEIGHT = 21.0


@dataclass(frozen=True, slots=True)
class HoursRow:
    """One unit's row in the picture; hours [h], None where not known; `note` is at the right, bold if due."""

    name: str
    hours_on_oil: float | None
    estimated: bool
    interval_h: float | None
    interval_low_h: float | None
    interval_high_h: float | None
    due_now: bool
    note: str


def draw_hours_left(figure: Figure, rows: Sequence[HoursRow], *, width: float, end: float) -> None:
    """Draw one row for each unit: a bar to the hours on the oil, a tick at the interval, a line over its range.

    rows : in the order to be shown.  width : [CSS px].  end : of the hours axis [h], the same over several pictures
    of one fleet.
    """
    narrow = width < 500
    longest_name, longest_note = (11, 16) if narrow else (17, 38)
    left = 16.0 + 6.6 * max((len(label_text(row.name, longest_name)) for row in rows), default=4)
    margins = Margins(left=left, top=20.0, right=74.0 if narrow else 184.0, bottom=34.0)
    with single_axes(figure, width=width, height=54.0 + ROW_HEIGHT * len(rows), margins=margins) as axes:
        hours_left_on(axes, rows, end=end, longest_name=longest_name, longest_note=longest_note)


def hours_left_on(
    axes: Axes, rows: Sequence[HoursRow], *, end: float, longest_name: int = 17, longest_note: int = 38
) -> None:
    """Draw the rows on given axes; longest_name, longest_note : letters, longer ones are cut."""
    axes.set_xlim(0.0, end)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    _draw_bars(axes, rows)
    _draw_intervals(axes, rows, end=end)
    axes.yaxis.set_visible(False)
    for position, row in enumerate(rows):
        weight = "bold" if row.due_now else "normal"
        axes.annotate(
            label_text(row.name, longest_name),
            (0.0, position),
            xytext=(-6.0, 0.0),
            textcoords="offset points",
            ha="right",
            va="center",
            fontsize=TEXT_SIZE,
            weight=weight,
            annotation_clip=False,
        )
        axes.annotate(
            label_text(row.note, longest_note),
            (end, position),
            xytext=(8.0, 0.0),
            textcoords="offset points",
            ha="left",
            va="center",
            fontsize=SMALL_TEXT + 0.5,
            color=INK if row.due_now else SOFT,
            weight=weight,
            annotation_clip=False,
        )
    axes.spines["left"].set_color(SOFT)
    axes.spines["bottom"].set_visible(False)
    grid_behind(axes, "x")
    axes.tick_params(axis="x", top=True, labeltop=True, labelbottom=True, length=0)
    axes.set_xlabel("hours on the oil [h]")


def axis_end(rows: Sequence[HoursRow]) -> float:
    """The end of the hours axis [h]: past every interval and bar; longer ranges end in an arrow."""
    hours = [value for row in rows for value in (row.hours_on_oil, row.interval_h) if value is not None]
    return 1.18 * max(1.0, max(hours, default=10.0))


def _draw_bars(axes: Axes, rows: Sequence[HoursRow]) -> None:
    """Solid for logged hours, open for estimated ones; the part past the interval is dark and hatched."""
    for position, row in enumerate(rows):
        if row.hours_on_oil is None:
            axes.text(0.0, position, " hours not known", va="center", fontsize=SMALL_TEXT, color=AMBER)
            continue
        within = row.hours_on_oil if row.interval_h is None else min(row.hours_on_oil, row.interval_h)
        axes.barh(
            position,
            within,
            height=0.52,
            color=PETROL_PALE if row.estimated else PETROL_MID,
            edgecolor=PETROL if row.estimated else "none",
            linewidth=0.8,
            linestyle=(0, (2, 1.5)),
        )
        if row.hours_on_oil > within:
            axes.barh(
                position,
                row.hours_on_oil - within,
                left=within,
                height=0.52,
                color=AMBER_PALE,
                edgecolor=AMBER,
                hatch="////",
                linewidth=0.8,
            )


def _draw_intervals(axes: Axes, rows: Sequence[HoursRow], *, end: float) -> None:
    """The range as a thin line, with an arrow where it continues beyond the picture; the interval as a tick."""
    hours: list[float] = []
    positions: list[float] = []
    beyond: list[int] = []
    for position, row in enumerate(rows):
        if row.interval_low_h is None or row.interval_high_h is None:
            continue
        hours += [min(row.interval_low_h, end), min(row.interval_high_h, end), np.nan]
        positions += [position, position, np.nan]
        if row.interval_high_h > end:
            beyond.append(position)
    axes.plot(hours, positions, color=INK, linewidth=1.2, solid_capstyle="butt")
    axes.plot([end] * len(beyond), beyond, linestyle="none", marker=">", markersize=5, color=INK, clip_on=False)
    known = [(position, row.interval_h) for position, row in enumerate(rows) if row.interval_h is not None]
    ticks = np.array([[interval, interval, np.nan] for _, interval in known]).ravel()
    heights = np.array([[position - 0.36, position + 0.36, np.nan] for position, _ in known]).ravel()
    axes.plot(ticks, heights, color=INK, linewidth=3.0, solid_capstyle="butt")
