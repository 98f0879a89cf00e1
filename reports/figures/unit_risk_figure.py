"""One unit against the hours on the oil: its risk of oil past fit and its interval with the range; its drains."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import PercentFormatter

from draincurve.pipeline.deciding import OIL, UnitCurve
from draincurve.pipeline.judging import RiskCurve
from draincurve.reports.figures.channel_curve_figure import draw_drains
from draincurve.reports.figures.figure_style import (
    AMBER,
    DASHED,
    GRID,
    INK,
    PETROL,
    PETROL_PALE,
    PLUM,
    SMALL_TEXT,
    SOFT,
    accepted_label,
    grid_behind,
)
from draincurve.reports.figures.line_labels import LineLabel, label_lines
from draincurve.reports.figures.rating_marks import draw_ratings

LABEL_GAP = 0.18
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


def unit_risk_on(
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
    end = hours_end(hours.tolist(), interval_h=interval_h, risk=risk)
    axes.set_xlim(0.0, end)
    draw_interval(axes, interval_h, interval_range_h=interval_range_h, end=end)
    if risk is None:
        rated = [(drain.oil_hours, drain.low, drain.high) for drain in history.drains]
        draw_ratings(axes, rated, channel=history.channel, limit=history.limit)
    else:
        draw_unit_risk(axes, risk, end=end)
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


def hours_end(drained_h: Sequence[float], *, interval_h: float | None, risk: UnitRisk | None) -> float:
    """End of the axis of hours [h]: drains, the interval and the hours on the oil now are within it."""
    return 1.15 * max([*drained_h, interval_h or 1.0, *([risk.now_h] if risk and risk.now_h else [])])


def draw_unit_risk(axes: Axes, risk: UnitRisk, *, end: float) -> None:
    """The unit's risk with its 90 % band, the fleet's line dashed, the accepted risk, and the unit now."""
    unit_risk = risk.own
    axes.set_xlim(0.0, end)
    axes.set_ylim(0.0, 1.0)
    axes.spines["left"].set_visible(False)
    grid_behind(axes, "y")
    axes.fill_between(unit_risk.hours, unit_risk.low, unit_risk.high, color=PETROL_PALE, linewidth=0, alpha=0.75)
    axes.plot(unit_risk.hours, unit_risk.risk, color=PETROL, linewidth=2.2)
    labels = [_end_label(unit_risk, "this unit", end=end, colour=PETROL)]
    if risk.fleet is not None:
        axes.plot(risk.fleet.hours, risk.fleet.risk, color=PLUM, linewidth=1.4, linestyle=(0, (6, 2)))
        labels.append(_end_label(risk.fleet, "the fleet", end=end, colour=PLUM))
    if risk.partner is not None:
        axes.plot(risk.partner.hours, risk.partner.risk, color=SOFT, linewidth=1.2, linestyle=(0, (1, 1.5)))
        labels.append(_end_label(risk.partner, "other leg", end=end, colour=SOFT))
    axes.axhline(risk.accepted_risk, color=AMBER, linewidth=1.0, linestyle=DASHED)
    labels.append((risk.accepted_risk, accepted_label(risk.accepted_risk), AMBER))
    label_lines(axes, labels, low=0.0, high=1.0, gap=LABEL_GAP, longest=18)
    if risk.now_h is not None and 0.0 < risk.now_h < end:
        axes.plot(
            [risk.now_h],
            [float(np.interp(risk.now_h, unit_risk.hours, unit_risk.risk))],
            "D",
            color=INK,
            markersize=6.0,
        )
    axes.set_yticks([0.0, 0.5, 1.0])
    axes.yaxis.set_major_formatter(PercentFormatter(1.0, symbol=" %"))
    axes.set_ylabel("oil past fit" if unit_risk.channel == OIL else f"{unit_risk.channel} past")


def _end_label(curve: RiskCurve | UnitCurve, text: str, *, end: float, colour: str) -> LineLabel:
    """The label of a curve at its height at the right edge."""
    return float(np.interp(end, curve.hours, curve.risk)), text, colour


def draw_interval(
    axes: Axes, interval_h: float | None, *, interval_range_h: tuple[float, float] | None, end: float
) -> None:
    """The interval as a line, named above the axes, and the range of the oil's hours behind it; hours in h."""
    if interval_range_h is not None:
        low, high = interval_range_h
        axes.axvspan(min(low, end), min(high, end), color=GRID, alpha=0.6, linewidth=0)
    if interval_h is not None:
        axes.axvline(interval_h, color=INK, linewidth=2.0)
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
