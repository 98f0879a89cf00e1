"""Which fleets the study simulates, and how many: chosen so that a table's standard errors stay small in its time."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from draincurve.schemas.settings import Settings
from tests.calibration.scored_fleet import FleetScore, scored
from tests.calibration.truths import TRUTHS

DRAINS = (3, 8, 20)
"""Drains a unit; the fleets of a cell take turns."""

SIZES = (2, 6, 20, 100, 1000)
_RIGHT = {"wide": (360, 180, 75, 21, 2), "nearly constant": (180, 90, 45, 12, 1)}
_WRONG = {"wide": (120, 75, 36, 9, 0), "nearly constant": (0, 0, 0, 0, 0)}
_THOUSAND_UNITS_DRAINS = 8
LARGE_FLEET = 2500
"""Units of a fleet that takes the large path."""

_LARGE = {"right": {"wide": 45, "nearly constant": 21}, "wrong": {"wide": 21, "nearly constant": 0}}
_FIRST_LARGE = 1000
QUICK_SHARE = 8
"""A quick study takes one fleet in so many, and none of 1,000 units."""


@dataclass(frozen=True)
class Cell:
    """One line of the table: `number` seeds its fleets."""

    number: int
    truth: str
    spread: str
    units: int
    fleets: int


@dataclass(frozen=True)
class Job:
    """One fleet of a cell."""

    cell: Cell
    index: int
    seed: int

    @property
    def drains(self) -> int:
        """Drains a unit."""
        return _THOUSAND_UNITS_DRAINS if self.cell.units == 1000 else DRAINS[self.index % len(DRAINS)]


def cells(quick: bool) -> list[Cell]:
    """Every cell that has fleets, in the order of the table."""
    found = []
    lines = itertools.product(TRUTHS.items(), _RIGHT, enumerate(SIZES))
    for number, ((truth, (kind, _)), spread, (place, units)) in enumerate(lines):
        fleets = (_RIGHT if kind == "right" else _WRONG)[spread][place]
        if truth == "prior, all columns" and spread != "wide":
            fleets = 0
        if quick:
            fleets = 0 if units >= 1000 else -(-fleets // QUICK_SHARE)
        if fleets:
            found.append(Cell(number, truth, spread, units, fleets))
    large = itertools.product(TRUTHS.items(), _RIGHT)
    for number, ((truth, (kind, _)), spread) in enumerate(large, _FIRST_LARGE):
        if fleets := 0 if quick else _LARGE[kind][spread]:
            found.append(Cell(number, truth, spread, LARGE_FLEET, fleets))
    return found


def jobs(chosen: list[Cell], seed: int) -> list[Job]:
    """Every fleet of the cells, the largest first, so that both cores end together."""
    all_jobs = [Job(cell, index, seed) for cell in chosen for index in range(cell.fleets)]
    return sorted(all_jobs, key=lambda job: -job.cell.units * job.drains)


def run_job(job: Job) -> tuple[Job, FleetScore]:
    """Draw the truth, simulate and score; the same job gives the same score wherever it runs."""
    rng = np.random.default_rng([job.seed, job.cell.number, job.index])
    _, draw = TRUTHS[job.cell.truth]
    shop = draw(job.cell.units, job.drains, job.cell.spread, rng)
    return job, scored(shop, Settings(), rng)
