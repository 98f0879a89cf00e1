"""From arrays to the tables of the data contract, with names and dates, and the truth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl

from draincurve.pipeline.simulation.fleet_arrays import FleetArrays, simulate_arrays
from draincurve.pipeline.simulation.fleet_plan import FleetPlan
from draincurve.pipeline.simulation.fleet_truth import fleet_truth
from draincurve.pipeline.simulation.riding_days import RidingDays, booked_days, ridden_days
from draincurve.pipeline.simulation.service_history import SHOCK
from draincurve.schemas.array_types import Integers
from draincurve.schemas.columns import SIGNS

POSITIONS = ("left", "right", "rear")
UNIX_EPOCH = 719163
"""Ordinal day of 1970-01-01."""

LEAK_SHARE = 0.8
"""Share of the usual volume that is drained from a leaking unit."""


@dataclass(frozen=True, slots=True)
class SimulatedFleet:
    """Clean typed tables (drains, units, usage, bookings) in the contract's columns, and the truth."""

    tables: dict[str, pl.DataFrame]
    truth: dict[str, Any]


def simulate_fleet(plan: FleetPlan, rng: np.random.Generator) -> SimulatedFleet:
    """One invented fleet by the plan: tables as a careful technician would have kept them, and the truth."""
    arrays = simulate_arrays(plan, rng)
    unit_ids = simulated_unit_ids(plan)
    fitted = unit_ids[: plan.units]
    last_drain = np.zeros(plan.units, dtype=np.int64)
    np.maximum.at(last_drain, arrays.unit, arrays.day)
    tables = {
        "drains": _drains(plan, arrays, unit_ids=fitted, rng=rng),
        "units": _register(plan, arrays, unit_ids=unit_ids),
        "usage": _riding(ridden_days(plan, arrays.layout, last_drain=last_drain, rng=rng), fitted),
        "bookings": _riding(booked_days(plan, arrays.layout, rng=rng), fitted),
    }
    return SimulatedFleet(tables, fleet_truth(plan, arrays, unit_ids=fitted))


def simulated_unit_ids(plan: FleetPlan) -> list[str]:
    """F01.. for fork legs, S01.. for shocks, and the idle ones after them, numbered on."""
    legs = plan.units - plan.shocks
    width = max(2, len(str(plan.units + plan.idle_units)))
    forks = [f"F{number:0{width}d}" for number in range(1, legs + 1)]
    shocks = [f"S{number:0{width}d}" for number in range(1, plan.shocks + 1)]
    idle = [f"F{number:0{width}d}" for number in range(legs + 1, legs + plan.idle_units + 1)]
    return forks + shocks + idle


def _names(values: list[str], index: Integers) -> pl.Series:
    """Names at their indices."""
    return pl.Series(values, dtype=pl.String).gather(index)


def _dates(days: Integers) -> pl.Series:
    """Ordinal days as dates."""
    return pl.Series((days - UNIX_EPOCH).astype(np.int32), dtype=pl.Int32).cast(pl.Date)


def _drains(plan: FleetPlan, arrays: FleetArrays, *, unit_ids: list[str], rng: np.random.Generator) -> pl.DataFrame:
    """The log: one row per drain, by date as a notebook is kept."""
    springs = [level.name for level in plan.springs] + [plan.shock_spring]
    oils = [level.name for level in plan.oils] + [plan.shock_oil]
    shock = arrays.layout.position[arrays.unit] == SHOCK
    is_last = np.append(arrays.unit[1:] != arrays.unit[:-1], True)
    signs = {
        name: is_last & np.isin(arrays.unit, [item.unit for item in plan.signs if item.sign == name])
        for name in SIGNS
    }
    meter_start = np.round(rng.uniform(20, 400, plan.units), 1)
    columns: dict[str, Any] = {
        "unit_id": _names(unit_ids, arrays.unit),
        "drained_on": _dates(arrays.day),
        "oil_hours": arrays.oil_hours,
        "meter_hours": np.round(meter_start[arrays.unit] + arrays.unit_hours, 1),
        "oil_grade": _names(oils, arrays.oil),
        "filled_ml": arrays.filled_ml,
        "drained_ml": np.where(signs["leak"], np.round(LEAK_SHARE * arrays.drained_ml), arrays.drained_ml),
        "settle_hours": arrays.settle_hours,
    }
    columns |= {f"{name}_rating": ratings for name, ratings in arrays.ratings.items()}
    columns |= {
        "spring_type": _names(springs, arrays.spring),
        "spring_hours": arrays.spring_hours,
        "rider": _names([level.name for level in plan.riders], arrays.rider),
        "rated_by": _names([rater.name for rater in plan.raters], arrays.rater),
        "surface": _names([level.name for level in plan.surfaces], arrays.surface),
        "site": _names([level.name for level in plan.sites], arrays.site),
        "machine": _names(_machines(plan, arrays), arrays.layout.machine[arrays.unit]),
        "chamber": _names(["single", plan.shock_chamber], shock.astype(np.int64)),
        "drain_method": _names(["pumped through"], np.zeros(arrays.unit.size, dtype=np.int64)),
        "service_kind": _names(["oil"], np.zeros(arrays.unit.size, dtype=np.int64)),
        **signs,
    }
    return pl.DataFrame(columns).sort("drained_on", "unit_id", maintain_order=True)


def _machines(plan: FleetPlan, arrays: FleetArrays) -> list[str]:
    """Names of the machines, numbered on."""
    return [f"{plan.machine_prefix}{number + 1}" for number in range(int(arrays.layout.machine.max()) + 1)]


def _register(plan: FleetPlan, arrays: FleetArrays, *, unit_ids: list[str]) -> pl.DataFrame:
    """Every unit and what it runs now; idle units carry the first spring, oil and rider, without a machine."""
    springs = [level.name for level in plan.springs] + [plan.shock_spring]
    oils = [level.name for level in plan.oils] + [plan.shock_oil]
    riders = [level.name for level in plan.riders]
    sites = [level.name for level in plan.sites]
    layout, present = arrays.layout, arrays.present
    machines = _machines(plan, arrays)
    idle = plan.idle_units

    def with_idle(names: list[str], index: Integers, *, for_idle: str | None) -> list[str | None]:
        return [*(names[i] for i in index), *([for_idle] * idle)]

    is_shock = np.append(layout.position == SHOCK, np.zeros(idle, dtype=bool))
    return pl.DataFrame(
        {
            "unit_id": unit_ids,
            "machine": with_idle(machines, layout.machine, for_idle=None),
            "position": with_idle(list(POSITIONS), layout.position, for_idle=None),
            "site": with_idle(sites, layout.site, for_idle=sites[0]),
            "fill_ml": np.where(is_shock, plan.shock_fill_ml, plan.fill_ml),
            "spring_type": with_idle(springs, present["spring"], for_idle=springs[0]),
            "oil_grade": with_idle(oils, present["oil"], for_idle=oils[0]),
            "rider": with_idle(riders, present["rider"], for_idle=riders[0]),
            "max_interval_h": [plan.max_interval_h] * len(unit_ids),
            "max_oil_days": [plan.max_oil_days] * len(unit_ids),
            "in_service": [index not in plan.out_of_service for index in range(len(unit_ids))],
        },
        schema_overrides={
            "machine": pl.String,
            "position": pl.String,
            "max_interval_h": pl.Float64,
            "max_oil_days": pl.Float64,
        },
    )


def _riding(days: RidingDays, unit_ids: list[str]) -> pl.DataFrame:
    """Rows of usage or bookings, by date."""
    frame = pl.DataFrame({"unit_id": _names(unit_ids, days.unit), "date": _dates(days.day), "hours": days.hours})
    return frame.sort("date", "unit_id", maintain_order=True)
