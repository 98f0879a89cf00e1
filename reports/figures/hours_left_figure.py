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
    GRID,
    INK,
    PETROL,
    PETROL_MID,
    PETROL_PALE,
    SMALL_TEXT,
    SOFT,
    TEXT_SIZE,
    axes_at,
    drawing_style,
    plain,
    resize,
)

ROW_HEIGHT = 21.0


@dataclass(frozen=True, slots=True)
class OilClock:
    """One unit's line in the picture; hours [h], None where not known; `note` is at the right, bold if due."""

    unit_id: str
    hours_on_oil: float | None
    estimated: bool
    interval_h: float | None
    interval_low_h: float | None
    interval_high_h: float | None
    due_now: bool
    note: str


def draw_hours_left(figure: Figure, clocks: Sequence[OilClock], width: float, longest: float) -> None:
    """Draw one line a unit: a bar to the hours on the oil, a tick at the interval, a line over its range.

    clocks : in the order to be shown; width [CSS px]; longest : end of the hours axis [h], the same over
    several pictures of one fleet.
    """
    narrow = width < 500
    height = 54.0 + ROW_HEIGHT * len(clocks)
    resize(figure, width, height)
    with drawing_style():
        longest_id = 11 if narrow else 17
        left = 16.0 + 6.6 * max((len(plain(clock.unit_id, longest_id)) for clock in clocks), default=4)
        right = 74.0 if narrow else 184.0
        axes = axes_at(figure, left=left, top=20.0, right=right, bottom=34.0)
        places = np.arange(len(clocks), dtype=float)
        axes.set_xlim(0.0, longest)
        axes.set_ylim(len(clocks) - 0.4, -0.6)
        _bars(axes, clocks)
        _intervals(axes, clocks, longest)
        axes.set_yticks([])
        for place, clock in zip(places, clocks, strict=True):
            over = clock.due_now
            axes.annotate(
                plain(clock.unit_id, longest_id),
                (0.0, place),
                xytext=(-6.0, 0.0),
                textcoords="offset points",
                ha="right",
                va="center",
                fontsize=TEXT_SIZE,
                weight="bold" if over else "normal",
                annotation_clip=False,
            )
            axes.annotate(
                plain(clock.note, 16 if narrow else 38),
                (longest, place),
                xytext=(8.0, 0.0),
                textcoords="offset points",
                ha="left",
                va="center",
                fontsize=SMALL_TEXT + 0.5,
                color=INK if over else SOFT,
                weight="bold" if over else "normal",
                annotation_clip=False,
            )
        _dress(axes)


def axis_end(clocks: Sequence[OilClock]) -> float:
    """The end of the hours axis [h]: past every interval and bar; longer ranges run off with an arrow."""
    reach = [value for clock in clocks for value in (clock.hours_on_oil, clock.interval_h) if value is not None]
    return 1.18 * max(1.0, max(reach, default=10.0))


def _bars(axes: Axes, clocks: Sequence[OilClock]) -> None:
    """Solid for logged hours, open for estimated ones; what lies past the interval is dark and hatched."""
    for place, clock in enumerate(clocks):
        if clock.hours_on_oil is None:
            axes.text(0.0, place, " hours not known", va="center", fontsize=SMALL_TEXT, color=AMBER)
            continue
        within = clock.hours_on_oil if clock.interval_h is None else min(clock.hours_on_oil, clock.interval_h)
        axes.barh(
            place,
            within,
            height=0.52,
            color=PETROL_PALE if clock.estimated else PETROL_MID,
            edgecolor=PETROL if clock.estimated else "none",
            linewidth=0.8,
            linestyle=(0, (2, 1.5)),
        )
        if clock.hours_on_oil > within:
            axes.barh(
                place,
                clock.hours_on_oil - within,
                left=within,
                height=0.52,
                color=AMBER_PALE,
                edgecolor=AMBER,
                hatch="////",
                linewidth=0.8,
            )


def _intervals(axes: Axes, clocks: Sequence[OilClock], longest: float) -> None:
    """The range as a thin line, ending in an arrow where it leaves the picture; the interval as a tick."""
    ranges: list[float] = []
    rows: list[float] = []
    beyond: list[int] = []
    for place, clock in enumerate(clocks):
        if clock.interval_low_h is None or clock.interval_high_h is None:
            continue
        ranges += [min(clock.interval_low_h, longest), min(clock.interval_high_h, longest), np.nan]
        rows += [place, place, np.nan]
        if clock.interval_high_h > longest:
            beyond.append(place)
    axes.plot(ranges, rows, color=INK, linewidth=1.2, solid_capstyle="butt")
    axes.plot([longest] * len(beyond), beyond, linestyle="none", marker=">", markersize=5, color=INK, clip_on=False)
    known = [(place, clock.interval_h) for place, clock in enumerate(clocks) if clock.interval_h is not None]
    ticks = np.array([[hours, hours, np.nan] for _, hours in known]).ravel()
    spans = np.array([[place - 0.36, place + 0.36, np.nan] for place, _ in known]).ravel()
    axes.plot(ticks, spans, color=INK, linewidth=3.0, solid_capstyle="butt")


def _dress(axes: Axes) -> None:
    axes.spines["left"].set_color(SOFT)
    axes.spines["bottom"].set_visible(False)
    axes.grid(axis="x", color=GRID)
    axes.set_axisbelow(True)
    axes.tick_params(axis="x", top=True, labeltop=True, labelbottom=True, length=0)
    axes.set_xlabel("hours on the oil [h]")
