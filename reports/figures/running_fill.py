"""The fill that runs now, over the calendar: its hours, its interval, and the day by which to act."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from matplotlib.axes import Axes

from draincurve.reports.figures.date_axis import day_number
from draincurve.reports.figures.figure_style import AMBER, GRID, INK, PAPER, PETROL, PETROL_PALE, SMALL_TEXT


@dataclass(frozen=True, slots=True)
class RunningFill:
    """The fill that runs now, and when it is due.

    hours : on the oil as of the day [h], None where not known.  due_on : day by which to act, early and late : the
    range of the day on which the hours run out; None where not known.  due : in words
    """

    as_of: date
    as_of_text: str
    began_on: date | None
    hours: float | None
    estimated: bool
    spring: str
    interval_h: float | None
    interval_range_h: tuple[float, float] | None
    due_on: date | None
    early: date | None
    late: date | None
    due: str


def draw_running_fill(axes: Axes, now: RunningFill, *, first: float, last: float, top: float) -> None:
    """Its hours as a bar, its interval with the range of the oil's hours, and the day by which to act.

    first, last : ends of the axis of dates, as `day_number` gives them.  top : of the axis of hours [h]
    """
    today = day_number(now.as_of)
    began = first if now.began_on is None else day_number(now.began_on)
    if now.hours is None:
        axes.text((began + today) / 2.0, 0.02 * top, "?", ha="center", fontsize=SMALL_TEXT, color=AMBER)
    else:
        (bar,) = axes.bar(began, now.hours, today - began, align="edge", facecolor=PETROL_PALE, edgecolor=PETROL)
        if now.estimated:
            bar.set(hatch="////", linestyle="--")
    if now.interval_h is None:
        return
    if now.interval_range_h is not None:
        low, high = now.interval_range_h
        axes.fill_between([began, last], min(low, top), min(high, top), color=GRID, alpha=0.6, linewidth=0, zorder=0)
    axes.hlines(now.interval_h, began, last, color=INK, linewidth=2.0)
    axes.annotate(
        f"interval\n{now.interval_h:g} h",
        (1.0, now.interval_h),
        xycoords=("axes fraction", "data"),
        xytext=(6.0, 0.0),
        textcoords="offset points",
        va="center",
        fontsize=SMALL_TEXT,
        color=INK,
        annotation_clip=False,
    )
    _draw_due(axes, now, interval_h=now.interval_h, today=today, last=last)


def _draw_due(axes: Axes, now: RunningFill, *, interval_h: float, today: float, last: float) -> None:
    """A diamond at the day by which to act, a bar over the range of the day on which the hours run out."""
    due_day = today if now.due_on is None else max(today, day_number(now.due_on))
    if now.early is not None and now.late is not None:
        ends = [min(day_number(day), last) for day in (now.early, now.late)]
        axes.plot(ends, [interval_h] * 2, color=AMBER, linewidth=4.0, alpha=0.6, solid_capstyle="butt", zorder=3)
    if now.due_on is not None:
        axes.plot(
            [min(due_day, last)],
            [interval_h],
            ">" if due_day > last else "D",
            color=AMBER,
            markersize=6.0,
            zorder=4,
        )
    axes.axvline(min(due_day, last), interval_h / axes.get_ylim()[1], 0.9, color=AMBER, linewidth=0.9)
    axes.annotate(
        now.due,
        (min(due_day, last), 1.0),
        xycoords=("data", "axes fraction"),
        xytext=(4.0, 0.0),
        textcoords="offset points",
        ha="right",
        va="top",
        fontsize=SMALL_TEXT,
        weight="bold",
        color=INK,
        bbox={"facecolor": PAPER, "edgecolor": "none", "alpha": 0.8, "pad": 0.5},
        annotation_clip=False,
    )
