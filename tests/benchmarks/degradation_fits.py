"""The line with unit effects alone, at the size of a large fleet."""

from __future__ import annotations

import time

import numpy as np

from tests.benchmarks.rating_fits import Row, best_seconds

UNITS, READINGS = 100_000, 10


def measured(units: int = UNITS, readings: int = READINGS, seed: int = 1):
    """(response, clock, unit): lines that differ in level and in slope, readings in random order of hours."""
    rng = np.random.default_rng(seed)
    unit = np.repeat(np.arange(units), readings)
    clock = rng.uniform(0, 100, unit.size)
    level, slope = 0.3 * rng.normal(size=units), 0.01 * rng.normal(size=units)
    response = 1.0 + level[unit] + (0.02 + slope[unit]) * clock + 0.2 * rng.normal(size=unit.size)
    return response, clock, unit


def large_fleet() -> list[Row]:
    """The REML fit from raw readings, and what it takes at a tenth of the fleet."""
    from draincurve.pipeline.fitting.degradation.linear_mixed_model import fit_degradation

    response, clock, unit = measured()
    begin = time.process_time()
    fit = fit_degradation(response, clock, unit=unit)
    busy = time.process_time() - begin
    seconds = best_seconds(lambda: fit_degradation(response, clock, unit=unit), 3)
    fewer_responses, fewer_clocks, fewer_units = measured(UNITS // 10)
    small = best_seconds(lambda: fit_degradation(fewer_responses, fewer_clocks, unit=fewer_units), 3)
    return [
        Row(f"lines of {UNITS:,} units with {READINGS} readings each, REML", f"{seconds:.2f} s", "5 s or less"),
        Row("its processor time, all threads", f"{busy:.2f} s", ""),
        Row("its log likelihood", f"{fit.log_likelihood:.3f}", ""),
        Row(f"the same for {UNITS // 10:,} units", f"{small:.3f} s", "a tenth, or nearly"),
    ]
