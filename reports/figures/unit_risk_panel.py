"""One unit's chance of oil past fit against hours, beside a typical unit of the fleet: the top of its picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import PercentFormatter

from draincurve.pipeline.deciding.unit_curves import UnitCurve
from draincurve.pipeline.judging.risk_curves import RiskCurve
from draincurve.reports.figures.figure_style import AMBER, GRID, INK, PETROL, PETROL_PALE, PLUM, SOFT
from draincurve.reports.figures.line_names import name_lines

ROOM = 0.16
"""Least distance between two names, in heights of the panel."""


@dataclass(frozen=True, slots=True)
class UnitChance:
    """What the top panel shows; partner : the other leg's; now_h : hours on the oil now [h], None where not known."""

    own: UnitCurve
    fleet: RiskCurve | None
    partner: UnitCurve | None
    accepted_risk: float
    now_h: float | None


def draw_chance(axes: Axes, chance: UnitChance, end: float) -> None:
    """The unit's median with its 90 % band, the fleet's line dashed, the accepted risk, and where it is now."""
    own = chance.own
    axes.set_ylim(0.0, 1.0)
    axes.fill_between(own.hours, own.low, own.high, color=PETROL_PALE, linewidth=0, alpha=0.75)
    axes.plot(own.hours, own.median, color=PETROL, linewidth=2.2)
    names = [_end(own, end, "this unit", PETROL)]
    if chance.fleet is not None:
        axes.plot(chance.fleet.hours, chance.fleet.median, color=PLUM, linewidth=1.4, linestyle=(0, (6, 2)))
        names.append(_end(chance.fleet, end, "the fleet", PLUM))
    if chance.partner is not None:
        axes.plot(chance.partner.hours, chance.partner.median, color=SOFT, linewidth=1.2, linestyle=(0, (1, 1.5)))
        names.append(_end(chance.partner, end, "other leg", SOFT))
    axes.axhline(chance.accepted_risk, color=AMBER, linewidth=1.0, linestyle=(0, (5, 3)))
    names.append((chance.accepted_risk, f"accepted {100.0 * chance.accepted_risk:.3g} %", AMBER))
    name_lines(axes, names, 0.0, 1.0, ROOM, longest=18)
    if chance.now_h is not None and 0.0 < chance.now_h < end:
        risk = float(np.interp(chance.now_h, own.hours, own.median))
        axes.plot([chance.now_h], [risk], "D", color=INK, markersize=6.0)
    axes.set_yticks([0.0, 0.5, 1.0])
    axes.yaxis.set_major_formatter(PercentFormatter(1.0, symbol=" %"))
    axes.set_ylabel(f"{own.channel} past")
    axes.grid(axis="y", color=GRID)
    axes.set_axisbelow(True)
    axes.spines["left"].set_visible(False)


def _end(curve: RiskCurve | UnitCurve, end: float, text: str, colour: str) -> tuple[float, str, str]:
    """Where a curve leaves the picture, with its name."""
    return float(np.interp(end, curve.hours, curve.median)), text, colour
