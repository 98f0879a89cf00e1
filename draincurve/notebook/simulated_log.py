"""An invented fleet with its truth beside it, as frames, to try methods on."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from draincurve.notebook.notebook_inputs import checked_kind, frame_of, whole_number
from draincurve.pipeline.simulation import resized, simulate_fleet
from draincurve.pipeline.simulation import scenario as scenario_named


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class SimulatedLog:
    """A fleet made by `simulate`: its tables, the truth that they were drawn from, and its shop's settings.

    drains, units, usage, bookings : frames with the columns of the data contract, values typed
    truth : nested values as in truth.json; as_of : the day after which nothing is known
    settings : nested values, as `plan` takes them

    >>> import draincurve
    >>> draincurve.simulate("spring_trial", seed=1)
    <SimulatedLog spring_trial: 150 drains of 12 units up to 2026-06-20>
    """

    scenario: str
    as_of: date
    drains: Any
    units: Any
    usage: Any
    bookings: Any
    truth: dict[str, Any]
    settings: dict[str, Any]

    def __repr__(self) -> str:
        counts = f"{len(self.drains)} drains of {len(self.units)} units"
        return f"<SimulatedLog {self.scenario}: {counts} up to {self.as_of}>"


def simulate(
    scenario: str = "race_team",
    seed: int | None = None,
    *,
    units: int | None = None,
    drains: int | None = None,
    frames: str = "pandas",
) -> SimulatedLog:
    """Draw an invented fleet from a known truth.

    scenario : race_team (an enduro team of 16 units), spring_trial (three springs rotated over 12 legs) or
    track_school (120 units at two sites)
    seed : start of the random numbers; None gives the same fleet every time
    units, drains : other numbers of them than the scenario's
    frames : pandas or polars

    The values are clean. `draincurve simulate` writes the same fleet to files, with the cells as people type them.
    Raises SettingsError for an unknown scenario.

    >>> import draincurve
    >>> fleet = draincurve.simulate(seed=1, units=4, drains=24)
    >>> fleet.drains[["unit_id", "oil_hours", "debris_rating"]].head(2)
      unit_id  oil_hours  debris_rating
    0     F03       16.0              4
    1     F03       15.8              2
    >>> fleet.truth["channels"]["debris"]["hours_slope"]
    2.4
    """
    checked_kind(frames)
    for name, given in (("seed", seed), ("units", units), ("drains", drains)):
        if given is not None:
            whole_number(given, name)
    chosen = scenario_named(scenario)
    plan = resized(chosen.plan(), units, drains=drains)
    used_seed = chosen.seed if seed is None else seed
    fleet = simulate_fleet(plan, np.random.default_rng(used_seed))
    return SimulatedLog(
        scenario=scenario,
        as_of=plan.as_of,
        truth={"seed": used_seed, **fleet.truth},
        settings=tomllib.loads(chosen.settings),
        **{name: frame_of(table, frames) for name, table in fleet.tables.items()},
    )
