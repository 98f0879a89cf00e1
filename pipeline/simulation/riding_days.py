"""Hours ridden day by day since the last drains, and the bookings of the weeks that follow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from draincurve.pipeline.simulation.fleet_plan import FleetPlan
from draincurve.pipeline.simulation.service_history import FleetLayout
from draincurve.schemas.array_types import Floats, Integers

BOOKED_WEEKS = 8
RIDDEN_SHARE = 0.75
"""Share of riding days on which a machine is really out."""


@dataclass(frozen=True, slots=True)
class RidingDays:
    """Rows of unit (index), day (ordinal) and hours [h], each shape (rows,)."""

    unit: Integers
    day: Integers
    hours: Floats


def ridden_days(
    plan: FleetPlan, layout: FleetLayout, *, last_drain: Integers, rng: np.random.Generator
) -> RidingDays:
    """Hours of each day after a unit's last drain, or of the last `usage_days` if these begin earlier.

    last_drain : ordinal day of each unit's last drain, shape (units,). Units of one machine have the same days.
    """
    as_of = plan.as_of.toordinal()
    first = np.minimum(last_drain + 1, as_of - plan.usage_days + 1)
    days = np.arange(int(first.min()), as_of + 1)
    by_machine = _hours_by_machine(
        plan, layout, allowed=_on(days, plan.ride_weekdays), rng=rng, out_share=RIDDEN_SHARE
    )
    return _rows(layout, days, by_machine=by_machine, first=first)


def booked_days(plan: FleetPlan, layout: FleetLayout, *, rng: np.random.Generator) -> RidingDays:
    """Planned hours of each unit on the booked days of the weeks after the as-of date."""
    as_of = plan.as_of.toordinal()
    days = np.arange(as_of + 1, as_of + 7 * BOOKED_WEEKS + 1)
    by_machine = _hours_by_machine(
        plan, layout, allowed=_on(days, plan.booking_weekdays), rng=rng, out_share=plan.booked_share
    )
    by_machine = np.round(by_machine * 2) / 2
    return _rows(layout, days, by_machine=by_machine, first=np.full(layout.machine.size, as_of + 1))


def _on(days: Integers, weekdays: tuple[int, ...]) -> Floats:
    """1 on the weekdays (Monday is 0), else 0."""
    return np.isin((days - 1) % 7, weekdays).astype(np.float64)


def _hours_by_machine(
    plan: FleetPlan, layout: FleetLayout, *, allowed: Floats, rng: np.random.Generator, out_share: float
) -> Floats:
    """Hours of each machine and day, shape (machines, days), which average the plan's hours per week."""
    shape = (int(layout.machine.max()) + 1, allowed.size)
    out = (rng.random(shape) < out_share) * allowed
    typical = plan.hours_per_week / (len(plan.ride_weekdays) * RIDDEN_SHARE)
    hours: Floats = np.round(out * typical * layout.pace[:, None] * rng.gamma(9.0, 1 / 9.0, shape), 1)
    return hours


def _rows(layout: FleetLayout, days: Integers, *, by_machine: Floats, first: Integers) -> RidingDays:
    """One row for each unit and day with hours, from each unit's first day on."""
    hours = by_machine[layout.machine]
    unit, column = np.nonzero((hours > 0) & (days[None, :] >= first[:, None]))
    return RidingDays(unit.astype(np.int64), days[column], hours[unit, column])
