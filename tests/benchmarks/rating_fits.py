"""The rating model alone: a fit with unit effects at its goal's size, and the first fit of a fresh process."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

DRAINS, UNITS, COLUMNS, NODES = 10_000, 1_000, 6, 9


@dataclass(frozen=True)
class Row:
    """One line of the table: what was measured, the value with its unit, and what it is held against."""

    what: str
    value: str
    goal: str


def simulated(drains: int = DRAINS, units: int = UNITS, columns: int = COLUMNS, seed: int = 1):
    """(ratings, log hours, design, units) with a spread of 0.8 between units, logit link."""
    rng = np.random.default_rng(seed)
    unit = rng.integers(units, size=drains)
    log_hours = np.log(rng.uniform(4, 40, drains))
    design = rng.normal(size=(drains, columns))
    eta = 2.2 * log_hours + design @ np.linspace(-0.5, 0.5, columns) + 0.8 * rng.normal(size=units)[unit]
    ratings = 1 + np.searchsorted([3.2, 5.1, 6.9, 8.6], eta + rng.logistic(size=drains))
    return ratings, log_hours, design, unit


def best_seconds(action: Callable[[], object], times: int = 5) -> float:
    """The shortest of a few runs."""
    seconds = []
    for _ in range(times):
        begin = time.perf_counter()
        action()
        seconds.append(time.perf_counter() - begin)
    return min(seconds)


def with_units() -> list[Row]:
    """The fit with standard errors, after compilation."""
    from draincurve.pipeline.fitting.rating_model import fit_rating_model

    data = simulated()
    fit = fit_rating_model(*data, n_nodes=NODES)
    seconds = best_seconds(lambda: fit_rating_model(*data, n_nodes=NODES))
    begin = time.process_time()
    fit_rating_model(*data, n_nodes=NODES)
    busy = time.process_time() - begin
    size = f"{DRAINS:,} drains, {UNITS:,} units, {COLUMNS} columns, {NODES} nodes, standard errors"
    return [
        Row(f"fit, {size}", f"{seconds:.3f} s", "0.3 s or less"),
        Row("its processor time, all threads", f"{busy:.3f} s", ""),
        Row("its log likelihood, iterations", f"{fit.log_likelihood:.4f}, {fit.iterations}", ""),
    ]


FIRST_FIT = """
import time
begin = time.perf_counter()
from tests.benchmarks.rating_fits import simulated
from draincurve.pipeline.fitting.rating_model import fit_rating_model
from numba.core.event import install_recorder
loaded = time.perf_counter()
data = simulated(2000, 200)
begin_fit = time.perf_counter()
with install_recorder("numba:compile") as compiled:
    fit_rating_model(*data)
print(loaded - begin, time.perf_counter() - begin_fit, len(compiled.buffer) // 2)
"""


def second_start() -> list[Row]:
    """The first fit in a fresh process, once the compiled code lies in the cache."""
    for _ in range(2):
        done = subprocess.run([sys.executable, "-c", FIRST_FIT], capture_output=True, text=True, check=True)
    loading, first, compiled = done.stdout.split()
    return [
        Row("second start of a process: importing the fit", f"{float(loading):.2f} s", ""),
        Row("second start of a process: its first fit", f"{float(first):.2f} s", "does not compile"),
        Row("functions compiled in that process", compiled, "0"),
    ]
