"""In fleets with slips of the pen planted at random, rows that are asked about lengthen no interval."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from decided_logs import checked, intervals, never_longer
from deep_runs import examples
from small_logs import drain, simple_log

SLIPS = {
    "minutes": lambda hours: f"{60 * hours:.0f}",
    "part of a day": lambda hours: f"{hours / 24:.6f}",
    "too long": lambda hours: f"{3.5 * hours:.1f}",
    "too short": lambda hours: f"{0.25 * hours:.1f}",
}


def slips(rng: np.random.Generator, units: int) -> list[dict]:
    """Drains of any rating, with hours that are slips of the pen, between the others of their units."""
    found = []
    for at in range(int(rng.integers(1, 5))):
        text = SLIPS[str(rng.choice(list(SLIPS)))](float(rng.uniform(10.5, 13.0)))
        day = date(2026, 4, 3) + timedelta(days=at)
        colour, debris = (int(level) for level in rng.integers(1, 6, size=2))
        found.append(drain(f"U{1 + int(rng.integers(units)):02d}", day, 0.0, colour, debris) | {"oil_hours": text})
    return found


@pytest.mark.parametrize("seed", range(examples(8)))
def test_rows_that_are_asked_about_lengthen_no_interval(seed: int) -> None:
    rng = np.random.default_rng(seed)
    units = int(rng.integers(2, 6))
    fleet = simple_log(units, int(rng.integers(5, 10)), seed=seed, hours=(9.0, 14.5))
    planted = slips(rng, units)
    log = checked(fleet + planted)
    asked = log.accepted["drains"].filter("hours_in_question")["line"]
    assert sorted(asked) == list(range(len(fleet) + 2, len(fleet) + len(planted) + 2))
    never_longer(intervals(log), intervals(checked(fleet)))


@pytest.mark.parametrize(("seed", "turned"), [(0, ("colour",)), (1, ("debris",)), (2, ("colour", "debris"))])
def test_a_scale_that_is_asked_about_lengthens_no_interval(seed: int, turned: tuple[str, ...]) -> None:
    """Fills vary widely, so that hours are asked about as well as the scale."""
    rng = np.random.default_rng(seed)
    right = simple_log(int(rng.integers(3, 6)), int(rng.integers(8, 12)), seed=seed)
    log = checked([row | {f"{name}_rating": 6 - row[f"{name}_rating"] for name in turned} for row in right])
    drains = log.accepted["drains"]
    assert all(drains[f"{name}_in_question"].all() for name in turned)
    never_longer(intervals(log), intervals(checked(right)))
