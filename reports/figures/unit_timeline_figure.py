"""One unit over the calendar: its fills, springs, ratings and next service; below them its risk by hours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import AutoLocator

from draincurve.reports.figures.date_axis import day_number, label_dates
from draincurve.reports.figures.figure_style import (
    AMBER,
    DASHED,
    GRID,
    INK,
    PETROL,
    PETROL_MID,
    PETROL_PALE,
    SMALL_TEXT,
    SOFT,
    Margins,
    drawing_style,
    grid_behind,
    label_text,
    panels,
)
from draincurve.reports.figures.rating_marks import draw_ratings
from draincurve.reports.figures.running_fill import RunningFill, draw_running_fill
from draincurve.reports.figures.unit_risk_figure import UnitRisk, draw_interval, draw_unit_risk, hours_end

WIDTH, LEFT, RIGHT = 400.0, 52.0, 78.0
SPRINGS_HEIGHT, HOURS_HEIGHT, RATINGS_HEIGHT, RISK_HEIGHT = 15.0, 88.0, 66.0, 66.0
GAP, DATES_HEIGHT = 15.0, 46.0
LETTER = 5.9
"""Width of a letter of SMALL_TEXT, by which a name has room in its part of the strip or is left out."""
LEAST_AHEAD_DAYS = 14


@dataclass(frozen=True, slots=True)
class Fill:
    """One fill that was drained.

    began_on : day of the drain before, None for the first.  hours : [h], None where not known.
    ratings : low and high level for each channel, None where it was not rated.
    as_now : whether it ran on the spring and the oil that are in the unit now
    new_spring : whether a spring was fitted at this drain
    """

    began_on: date | None
    drained_on: date
    hours: float | None
    spring: str
    ratings: tuple[tuple[int, int] | None, ...]
    as_now: bool
    new_spring: bool = False


@dataclass(frozen=True, slots=True)
class UnitTimeline:
    """All of one unit.

    channels : name and limit of each.  fills : in order of date.  top_ups : days on which oil was added
    """

    channels: tuple[tuple[str, int], ...]
    fills: tuple[Fill, ...]
    top_ups: tuple[date, ...]
    now: RunningFill


def draw_unit_timeline(figure: Figure, timeline: UnitTimeline, *, risk: UnitRisk | None = None) -> None:
    """Draw springs, hours and ratings on one axis of dates, and the risk of oil past fit by hours on the oil.

    risk : None without a curve; then there is no risk panel.
    """
    heights = [SPRINGS_HEIGHT, HOURS_HEIGHT, *(RATINGS_HEIGHT for _ in timeline.channels)]
    tops = [18.0]
    for index, height in enumerate(heights):
        tops.append(tops[-1] + height + (4.0 if index == 0 else GAP))
    if risk is not None:
        heights.append(RISK_HEIGHT)
        tops[-1] += DATES_HEIGHT - GAP
        tops.append(tops[-1] + RISK_HEIGHT)
    total = tops[-1] + DATES_HEIGHT - (GAP if risk is None else 10.0)
    margins = [Margins(LEFT, top, RIGHT, total - top - height) for top, height in zip(tops, heights, strict=False)]
    first, last = _ends(timeline)
    with drawing_style():
        all_axes = panels(figure, margins, width=WIDTH, height=total)
        dated = all_axes[: 2 + len(timeline.channels)]
        label_dates(dated[-1], first, last)
        for axes in dated[:-1]:
            axes.set_xlim(first, last)
            axes.xaxis.set_visible(False)
        for axes in dated:
            axes.spines["left"].set_visible(False)
            axes.axvline(day_number(timeline.now.as_of), color=SOFT, linewidth=0.9)
        _draw_springs(dated[0], timeline, first=first, days_a_letter=LETTER * (last - first) / (WIDTH - LEFT - RIGHT))
        _draw_hours(dated[1], timeline, first=first, last=last)
        for place, (channel, limit) in enumerate(timeline.channels):
            rated = [
                (day_number(fill.drained_on), *rating)
                for fill in timeline.fills
                if (rating := fill.ratings[place]) is not None
            ]
            draw_ratings(dated[2 + place], rated, channel=channel, limit=limit)
            grid_behind(dated[2 + place], "y")
        if risk is not None:
            hours = [fill.hours for fill in timeline.fills if fill.hours is not None]
            end = hours_end(hours, interval_h=timeline.now.interval_h, risk=risk)
            draw_unit_risk(all_axes[-1], risk, end=end)
            draw_interval(
                all_axes[-1], timeline.now.interval_h, interval_range_h=timeline.now.interval_range_h, end=end
            )
            all_axes[-1].set_xlabel("hours on the oil [h]")


def _ends(timeline: UnitTimeline) -> tuple[float, float]:
    """First and last day of the axis; a due date farther ahead than half of the past is off its end."""
    now = timeline.now
    days = [fill.drained_on for fill in timeline.fills] + [fill.began_on for fill in timeline.fills if fill.began_on]
    first = min([*days, *timeline.top_ups, now.as_of])
    past = (now.as_of - first).days
    farthest = now.as_of + timedelta(days=max(LEAST_AHEAD_DAYS, past // 2))
    ahead = [min(day, farthest) for day in (now.due_on, now.late) if day is not None]
    last = max([now.as_of, *ahead])
    room = max(1.0, 0.025 * (last - first).days)
    return day_number(first) - room, day_number(last) + room


def _draw_springs(axes: Axes, timeline: UnitTimeline, *, first: float, days_a_letter: float) -> None:
    """A strip with one part for each run of fills on the same spring, named where the name has room."""
    axes.set_ylim(0.0, 1.0)
    axes.yaxis.set_visible(False)
    axes.spines["bottom"].set_visible(False)
    now = timeline.now
    ran = [(fill.spring, fill.began_on, fill.drained_on) for fill in timeline.fills]
    runs = []
    for spring, group in groupby([*ran, (now.spring, now.began_on, now.as_of)], key=lambda part: part[0]):
        parts = list(group)
        began = first if parts[0][1] is None else day_number(parts[0][1])
        runs.append((spring, began, day_number(parts[-1][2])))
    for index, (spring, began, ended) in enumerate(runs):
        axes.axvspan(began, ended, color=PETROL_PALE if index % 2 else GRID, alpha=0.7, linewidth=0)
        if index:
            axes.axvline(began, color=INK, linewidth=1.2)
        name = label_text(spring, 20)
        if len(name) * days_a_letter <= ended - began:
            axes.text((began + ended) / 2.0, 0.44, name, ha="center", va="center", fontsize=SMALL_TEXT, color=INK)
    for fill in timeline.fills:
        if fill.new_spring:
            axes.plot([day_number(fill.drained_on)], [0.9], "v", color=INK, markersize=4.0, clip_on=False)
    axes.text(-0.012, 0.44, "spring", transform=axes.transAxes, ha="right", va="center", color=SOFT)
    axes.annotate(
        now.as_of_text,
        (day_number(now.as_of), 1.0),
        xytext=(0.0, 3.0),
        textcoords="offset points",
        ha="center",
        fontsize=SMALL_TEXT,
        color=SOFT,
        annotation_clip=False,
    )


def _draw_hours(axes: Axes, timeline: UnitTimeline, *, first: float, last: float) -> None:
    """Each fill as a bar from the drain before to its own; the running one open, up to its interval and due date."""
    now = timeline.now
    known = [fill.hours for fill in timeline.fills if fill.hours is not None]
    top = 1.3 * max([*known, now.hours or 0.0, now.interval_h or 0.0, 1.0])
    axes.set_ylim(0.0, top)
    bars: list[tuple[float, float, float]] = []  # began, hours, days
    for fill in timeline.fills:
        drained = day_number(fill.drained_on)
        if fill.hours is None:
            began = drained if fill.began_on is None else day_number(fill.began_on)
            axes.text((began + drained) / 2.0, 0.02 * top, "?", ha="center", fontsize=SMALL_TEXT, color=AMBER)
        elif fill.began_on is None or fill.began_on >= fill.drained_on:
            axes.vlines(drained, 0.0, fill.hours, color=PETROL_MID, linewidth=2.5)
        else:
            began = day_number(fill.began_on)
            bars.append((began, fill.hours, drained - began))
    if bars:
        axes.bar(*zip(*bars, strict=True), align="edge", color=PETROL_MID, edgecolor=PETROL, linewidth=0.7)
    if now.interval_h is not None:
        for began, drained in _as_now(timeline.fills):
            axes.hlines(now.interval_h, began, drained, color=INK, linewidth=1.0, linestyle=DASHED)
    for day in timeline.top_ups:
        axes.plot([day_number(day)], [0.06 * top], "+", color=INK, markersize=6.0)
    draw_running_fill(axes, now, first=first, last=last, top=top)
    axes.yaxis.set_major_locator(AutoLocator())  # axes that are drawn in again have the last picture's ticks
    axes.set_yticks([tick for tick in axes.get_yticks() if 0.0 <= tick <= top])
    axes.set_ylabel("hours on oil [h]")
    grid_behind(axes, "y")


def _as_now(fills: Sequence[Fill]) -> list[tuple[float, float]]:
    """First and last day of each run of fills on the spring and the oil that are in the unit now."""
    runs = (list(group) for as_now, group in groupby(fills, key=lambda fill: fill.as_now) if as_now)
    return [(day_number(run[0].began_on or run[0].drained_on), day_number(run[-1].drained_on)) for run in runs]
