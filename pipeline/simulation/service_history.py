"""The fills of every unit before they are rated: spring, oil, rider, hours and dates, as arrays.

Arrays have a row for each unit and a column for each fill; the last column is the present fill. A unit with few
drains uses only the last columns.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from draincurve.pipeline.simulation.fleet_plan import FleetPlan, Level
from draincurve.schemas.array_types import Booleans, Floats, Integers

WINTER_MONTHS = (11, 12, 1, 2)
LEFT, RIGHT, SHOCK = 0, 1, 2


@dataclass(frozen=True, slots=True)
class FleetLayout:
    """Machine, position and site of each unit, and its number of drains, shape (units,).

    pace : how much each machine is ridden relative to the fleet's median, shape (machines,)
    """

    machine: Integers
    position: Integers
    site: Integers
    drains: Integers
    pace: Floats

    @property
    def spring_in_oil(self) -> Booleans:
        """False for shocks, whose spring is outside the oil."""
        in_oil: Booleans = self.position != SHOCK
        return in_oil


@dataclass(frozen=True, slots=True)
class FillLevels:
    """Indices into the plan's lists, shape (units, fills); the shocks' spring and oil are the last index.

    new_spring : whether a new spring was fitted at the start of the fill
    """

    spring: Integers
    oil: Integers
    rider: Integers
    new_spring: Booleans


def draw_layout(plan: FleetPlan, rng: np.random.Generator) -> FleetLayout:
    """Fork legs in pairs on machines, shocks on the first machines, drains distributed over the units."""
    legs = plan.units - plan.shocks
    leg = np.arange(legs, dtype=np.int64)
    machine = np.concatenate([leg // 2, np.arange(plan.shocks, dtype=np.int64)])
    position = np.concatenate([leg % 2, np.full(plan.shocks, SHOCK, dtype=np.int64)])
    weights = np.ones(plan.units) if plan.uneven == 0 else rng.gamma(plan.uneven**-2, size=plan.units)
    if plan.uneven == 0:
        extra = np.full(plan.units, plan.drains // plan.units, dtype=np.int64)
        extra[: plan.drains % plan.units] += 1
    else:
        extra = 1 + rng.multinomial(plan.drains - plan.units, weights / weights.sum()).astype(np.int64)
    pairs = legs // 2 * 2
    both = extra[0:pairs:2] + extra[1:pairs:2]
    extra[0:pairs:2], extra[1:pairs:2] = both - both // 2, both // 2
    pace = np.exp(0.2 * rng.standard_normal(int(machine.max()) + 1))
    return FleetLayout(machine, position, machine % len(plan.sites), extra, pace)


def draw_levels(plan: FleetPlan, layout: FleetLayout, *, fills: int, rng: np.random.Generator) -> FillLevels:
    """Spring, oil and rider of every fill; the legs of a machine change together."""
    machines = int(layout.machine.max()) + 1
    shape = (machines, fills)
    if plan.rotation_block is not None:
        row, column = np.arange(machines)[:, None], np.arange(fills)[None, :]
        spring = (row + column // plan.rotation_block) % len(plan.springs)
        rider = (row + column) % len(plan.riders)
        oil = (row // len(plan.springs) + column // 2) % len(plan.oils)
        fresh = np.broadcast_to(column % plan.rotation_block == 0, shape)
    else:
        fresh = rng.random(shape) < plan.new_spring_probability
        swapped = fresh & (rng.random(shape) < plan.spring_swap_probability)
        spring = _constant_between(swapped, plan.springs, rng=rng)
        rider = _constant_between(rng.random(shape) < plan.rider_swap_probability, plan.riders, rng=rng)
        oil = _constant_between(rng.random(shape) < plan.oil_swap_probability, plan.oils, rng=rng)
    spring, oil, rider = (item[layout.machine] for item in (spring, oil, rider))
    shock = ~layout.spring_in_oil
    spring[shock], oil[shock] = len(plan.springs), len(plan.oils)
    return FillLevels(spring, oil, rider, fresh[layout.machine])


def draw_level_of_each_fill(
    levels: tuple[Level, ...], shape: tuple[int, int], *, rng: np.random.Generator
) -> Integers:
    """Indices drawn afresh for each fill by the levels' weights."""
    weights = np.array([level.weight for level in levels])
    edges = np.cumsum(weights / weights.sum())[:-1]
    return np.searchsorted(edges, rng.random(shape), side="right").astype(np.int64)


def draw_fill_hours(plan: FleetPlan, layout: FleetLayout, *, fills: int, rng: np.random.Generator) -> Floats:
    """Planned hours of each fill [h], to a tenth; both legs of a machine have the same plan."""
    machines = int(layout.machine.max()) + 1
    logs = math.log(plan.fill_hours) + plan.hours_log_sd * rng.standard_normal((machines, fills))
    factor = np.where(layout.position == SHOCK, plan.shock_hours_factor, 1.0)
    hours: Floats = np.clip(np.exp(logs), *plan.hours_range)[layout.machine] * factor[:, None]
    return np.asarray(np.round(hours, 1))


def spring_clock(hours: Floats, new_spring: Booleans, *, first: Floats) -> Floats:
    """Hours on the spring at the end of each fill [h], counted from 0 at a new spring.

    hours, new_spring : shape (units, fills)
    first : hours on the spring at the start of the first fill, shape (units,)
    """
    end = np.cumsum(hours, axis=1)
    start = end - hours
    since = np.maximum.accumulate(np.where(new_spring, start, -1.0), axis=1)
    return np.where(since < 0, end + first[:, None], end - np.maximum(since, 0.0))


def drain_days(plan: FleetPlan, hours: Floats, *, layout: FleetLayout, rng: np.random.Generator) -> Integers:
    """Day (ordinal) on which each fill of `hours`, shape (units, drains), ended, later for each drain.

    Counted back from the as-of date over a year with a slow winter; the machines differ in pace.
    """
    machines = int(layout.machine.max()) + 1
    hours_a_day = plan.hours_per_week / 7 * layout.pace[layout.machine]
    since_last = (plan.fill_hours * rng.uniform(0.05, 0.9, machines))[layout.machine]
    to_go = np.cumsum(hours[:, ::-1], axis=1)[:, ::-1] - hours + since_last[:, None]
    days_of_riding = to_go / hours_a_day[:, None]
    as_of = plan.as_of.toordinal()
    # Forty years at most, so that a fleet with hundreds of drains a unit still dates after 1970.
    scale = min(1.0, 40 * 365 * 0.7 / float(days_of_riding.max()))
    calendar = np.arange(as_of - 55 * 365, as_of + 1)
    weight_to_go = np.cumsum(season_weight(plan, calendar)[::-1])
    back = np.searchsorted(weight_to_go, days_of_riding * scale)
    days = np.minimum(as_of - back.astype(np.int64), plan.last_drain_by.toordinal())
    order = np.arange(days.shape[1])
    return np.minimum.accumulate((days - order)[:, ::-1], axis=1)[:, ::-1] + order


def is_winter(days: Integers) -> Booleans:
    """Whether each day (ordinal, since year 1) falls in the slow months; any shape."""
    months = (days - 719163).astype("datetime64[D]").astype("datetime64[M]").astype(np.int64) % 12 + 1
    return np.isin(months, WINTER_MONTHS)


def season_weight(plan: FleetPlan, days: Integers) -> Floats:
    """How much is ridden on each day relative to a summer's day."""
    return np.where(is_winter(days), plan.winter_share, 1.0)


def _constant_between(change: Booleans, levels: tuple[Level, ...], *, rng: np.random.Generator) -> Integers:
    """A level drawn by weight at every change, kept until the next."""
    drawn = draw_level_of_each_fill(levels, (change.shape[0], change.shape[1]), rng=rng)
    column = np.arange(change.shape[1])
    last = np.maximum.accumulate(np.where(change, column, 0), axis=1)
    return np.take_along_axis(drawn, last, axis=1)
