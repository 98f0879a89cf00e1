"""One unit against the hours on the oil: its risk of oil past fit, its ratings, its interval with the range."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import PercentFormatter

from draincurve.pipeline.deciding import OIL, UnitCurve
from draincurve.pipeline.judging import RiskCurve
from draincurve.reports.figures.channel_curve_figure import draw_drains
from draincurve.reports.figures.figure_style import (
    AMBER,
    DASHED,
    GRID,
    INK,
    PAPER,
    PETROL,
    PETROL_PALE,
    PLUM,
    SMALL_TEXT,
    SOFT,
    Margins,
    accepted_label,
    drawing_style,
    grid_behind,
    panels,
)
from draincurve.reports.figures.line_labels import LineLabel, label_lines

RATING_LEVELS = 5
PANEL_HEIGHT = 103.0
LABEL_GAP = 0.16
"""Least distance of two labels beside the risk panel, in heights of the panel."""


@dataclass(frozen=True, slots=True)
class RatedDrain:
    """One rating of one drain; hours [h]; low and high differ where a range was typed."""

    oil_hours: float
    low: int
    high: int


@dataclass(frozen=True, slots=True)
class UnitHistory:
    """One channel of one unit, drains in order of date."""

    channel: str
    limit: int
    drains: tuple[RatedDrain, ...]


@dataclass(frozen=True, slots=True)
class UnitRisk:
    """What the risk panel shows.

    own : the unit's curve.  fleet : a typical unit's.  partner : the other leg's.  now_h : hours on the oil now [h],
    None where not known.
    """

    own: UnitCurve
    fleet: RiskCurve | None
    partner: UnitCurve | None
    accepted_risk: float
    now_h: float | None


def draw_unit_history(
    figure: Figure,
    histories: Sequence[UnitHistory],
    *,
    interval_h: float | None,
    interval_range_h: tuple[float, float] | None,
    risk: UnitRisk | None = None,
    width: float = 470.0,
) -> None:
    """Draw the risk of oil past fit, then one panel for each channel: ratings by hours, the latest ringed, the limit.

    risk : None without a curve; then there is no risk panel.
    """
    hours = [drain.oil_hours for history in histories for drain in history.drains]
    end = 1.15 * max([*hours, interval_h or 1.0, *([risk.now_h] if risk and risk.now_h else [])])
    risk_panels = risk is not None
    count = len(histories) + risk_panels
    margins = [
        Margins(58.0, 20.0 + index * PANEL_HEIGHT, 82.0, 38.0 + (count - 1 - index) * PANEL_HEIGHT)
        for index in range(count)
    ]
    with drawing_style():
        all_axes = panels(figure, margins, width=width, height=46.0 + PANEL_HEIGHT * count)
        for index, axes in enumerate(all_axes):
            axes.set_xlim(0.0, end)
            _draw_interval(axes, interval_h, interval_range_h=interval_range_h, end=end, named=index == 0)
            axes.tick_params(labelbottom=index == count - 1)
            grid_behind(axes, "y")
            axes.spines["left"].set_visible(False)
        if risk is not None:
            _draw_risk(all_axes[0], risk, end=end)
        for history, axes in zip(histories, all_axes[risk_panels:], strict=True):
            _draw_ratings(axes, history)
        all_axes[-1].set_xlabel("hours on the oil when drained [h]")


def unit_history_on(
    axes: Axes,
    history: UnitHistory,
    *,
    interval_h: float | None,
    interval_range_h: tuple[float, float] | None,
    risk: UnitRisk | None,
) -> None:
    """Draw one channel on given axes: the risk, with drains past the limit above it and the others below.

    risk : None without a curve; then the ratings are drawn alone.
    """
    hours = np.array([drain.oil_hours for drain in history.drains])
    end = 1.15 * max([*hours, interval_h or 1.0, *([risk.now_h] if risk and risk.now_h else [])])
    axes.set_xlim(0.0, end)
    _draw_interval(axes, interval_h, interval_range_h=interval_range_h, end=end, named=True)
    if risk is None:
        _draw_ratings(axes, history)
    else:
        _draw_risk(axes, risk, end=end)
        past = np.array([drain.low >= history.limit for drain in history.drains], dtype=bool)
        within = np.array([drain.high < history.limit for drain in history.drains], dtype=bool)
        axes.set_ylim(-0.25, 1.25)
        side = "right" if (interval_h or 0.0) < 0.5 * end else "left"  # away from the line of the interval
        draw_drains(axes, hours[past], within=hours[within], end=end, sides=(side, side))
        oil = risk.own.channel == OIL
        axes.set_ylabel(
            f"oil past fit; drains by {history.channel}" if oil else f"{history.channel} at or past the limit"
        )
    grid_behind(axes, "y")
    axes.spines["left"].set_visible(False)
    axes.set_xlabel("hours on the oil when drained [h]")


def _draw_risk(axes: Axes, risk: UnitRisk, *, end: float) -> None:
    """The unit's median with its 90 % band, the fleet's line dashed, the accepted risk, and the unit now."""
    own = risk.own
    axes.set_ylim(0.0, 1.0)
    axes.fill_between(own.hours, own.low, own.high, color=PETROL_PALE, linewidth=0, alpha=0.75)
    axes.plot(own.hours, own.median, color=PETROL, linewidth=2.2)
    labels = [_end_label(own, "this unit", end=end, colour=PETROL)]
    if risk.fleet is not None:
        axes.plot(risk.fleet.hours, risk.fleet.median, color=PLUM, linewidth=1.4, linestyle=(0, (6, 2)))
        labels.append(_end_label(risk.fleet, "the fleet", end=end, colour=PLUM))
    if risk.partner is not None:
        axes.plot(risk.partner.hours, risk.partner.median, color=SOFT, linewidth=1.2, linestyle=(0, (1, 1.5)))
        labels.append(_end_label(risk.partner, "other leg", end=end, colour=SOFT))
    axes.axhline(risk.accepted_risk, color=AMBER, linewidth=1.0, linestyle=DASHED)
    labels.append((risk.accepted_risk, accepted_label(risk.accepted_risk), AMBER))
    label_lines(axes, labels, low=0.0, high=1.0, gap=LABEL_GAP, longest=18)
    if risk.now_h is not None and 0.0 < risk.now_h < end:
        axes.plot([risk.now_h], [float(np.interp(risk.now_h, own.hours, own.median))], "D", color=INK, markersize=6.0)
    axes.set_yticks([0.0, 0.5, 1.0])
    axes.yaxis.set_major_formatter(PercentFormatter(1.0, symbol=" %"))
    axes.set_ylabel("oil past fit" if own.channel == OIL else f"{own.channel} past")


def _end_label(curve: RiskCurve | UnitCurve, text: str, *, end: float, colour: str) -> LineLabel:
    """The label of a curve at its height at the right edge."""
    return float(np.interp(end, curve.hours, curve.median)), text, colour


def _draw_ratings(axes: Axes, history: UnitHistory) -> None:
    """One channel's ratings, with the level from which oil is past its limit."""
    limit = history.limit - 0.5
    axes.set_ylim(0.5, RATING_LEVELS + 0.6)
    axes.axhline(limit, color=AMBER, linewidth=1.0, linestyle=DASHED)
    axes.text(
        1.015,
        limit,
        "▲ past limit",
        transform=axes.get_yaxis_transform(),
        va="center",
        fontsize=SMALL_TEXT,
        color=AMBER,
    )
    _draw_drains(axes, history)
    axes.set_yticks(range(1, RATING_LEVELS + 1))
    axes.set_ylabel(f"{history.channel} [1–{RATING_LEVELS}]")


def _draw_interval(
    axes: Axes,
    interval_h: float | None,
    *,
    interval_range_h: tuple[float, float] | None,
    end: float,
    named: bool,
) -> None:
    if interval_range_h is not None:
        low, high = interval_range_h
        axes.axvspan(min(low, end), min(high, end), color=GRID, alpha=0.6, linewidth=0)
    if interval_h is not None:
        axes.axvline(interval_h, color=INK, linewidth=2.0)
        if named:
            axes.annotate(
                f"interval {interval_h:g} h",
                (interval_h, 1.0),
                xycoords=("data", "axes fraction"),
                xytext=(-3.0, 3.0),
                textcoords="offset points",
                ha="right" if interval_h > 0.3 * end else "left",
                fontsize=SMALL_TEXT,
                color=INK,
            )


def _draw_drains(axes: Axes, history: UnitHistory) -> None:
    """Triangles past the limit, dots before it, a line over both levels of a range."""
    ranges = [drain for drain in history.drains if drain.high > drain.low]
    if ranges:
        axes.vlines(
            [drain.oil_hours for drain in ranges],
            [drain.low for drain in ranges],
            [drain.high for drain in ranges],
            color=SOFT,
            linewidth=1.6,
        )
    for past, marker, edge, face in ((False, "o", PETROL, PETROL_PALE), (True, "^", AMBER, AMBER)):
        marked = [drain for drain in history.drains if (drain.low >= history.limit) is past]
        if marked:
            axes.plot(
                [drain.oil_hours for drain in marked],
                [(drain.low + drain.high) / 2.0 for drain in marked],
                marker,
                color=edge,
                markerfacecolor=face,
                markeredgecolor=edge,
                markersize=7.0,
            )
    if history.drains:
        last = history.drains[-1]
        axes.plot(
            [last.oil_hours],
            [(last.low + last.high) / 2.0],
            "o",
            markersize=13.0,
            markerfacecolor="none",
            markeredgecolor=INK,
            markeredgewidth=1.1,
        )
        axes.annotate(
            "latest",
            (last.oil_hours, (last.low + last.high) / 2.0),
            xytext=(9.0, 0.0),
            textcoords="offset points",
            va="center",
            fontsize=SMALL_TEXT,
            color=INK,
            bbox={"facecolor": PAPER, "edgecolor": "none", "alpha": 0.6, "pad": 0.5},
        )
