"""How near a pass of the rating model over a large log comes to what its arithmetic must take.

    python -m tests.benchmarks.pass_limit [DRAINS UNITS]

The operations that a pass (value, gradient, Louis' information; logit) cannot do without are counted by formula,
each kind's cost is measured in a compiled loop on this machine, and a real pass on one thread is held against their
product. Counted is the least: one Newton step to a unit's mode, nothing for memory and branches.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numba import njit

from draincurve.pipeline.fitting.likelihood import Likelihood, Ratings
from draincurve.pipeline.fitting.links import link_named
from draincurve.pipeline.fitting.rating_input import by_unit
from draincurve.pipeline.fitting.thread_limits import one_thread
from draincurve.schemas.array_types import Floats
from tests.benchmarks.chapter import Chapter
from tests.benchmarks.rating_fits import best_seconds, simulated

DRAINS, UNITS, COLUMNS, SEED = 2_000_000, 100_000, 19, 19
NODES = 9
GOAL = 3.0
IN_CACHE, ROUNDS, ROW = 1_000, 5_000, 20


@dataclass(frozen=True)
class Operations:
    """Numbers of operations of each kind."""

    exponentials: float = 0.0
    logarithms: float = 0.0
    divisions: float = 0.0
    multiply_adds: float = 0.0

    def seconds(self, each: Operations) -> float:
        """What they take if each kind takes so long [s]."""
        return (
            self.exponentials * each.exponentials
            + self.logarithms * each.logarithms
            + self.divisions * each.divisions
            + self.multiply_adds * each.multiply_adds
        )


def transcendental(n: int, units: int, nodes: int) -> Operations:
    """A drain's factor; a unit's factor and weight at each node, its factor twice at the mode, logs of products."""
    return Operations(exponentials=n + units * (2 * nodes + 2), logarithms=units * (nodes + 2))


def of_scores_and_information(n: int, units: int, nodes: int, columns: int, cuts: int) -> Operations:
    """Scores by column at every node, their variance in every unit, expected curvature by pairs of columns."""
    size = cuts + columns + 1
    scores = n * nodes * columns
    variance = units * nodes * size * (size + 1) / 2
    curvature = n * (columns * (columns + 1) / 2 + 3 * columns)
    return Operations(multiply_adds=scores + variance + curvature)


def of_chances(n: int, nodes: int) -> Operations:
    """Each drain at each node: a division and about 35 products and sums, for the chance, its derivatives and their
    weighted sums; about 30 at the mode, which needs third derivatives.
    """
    places = n * nodes
    return Operations(divisions=places + 2 * n, multiply_adds=35 * places + 30 * n)


@njit(cache=True)
def _exponentials(x: Floats, out: Floats, rounds: int) -> None:
    for r in range(rounds):
        for i in range(x.size):
            out[i] = math.exp(x[i] + 1e-9 * r)


@njit(cache=True)
def _logarithms(x: Floats, out: Floats, rounds: int) -> None:
    for r in range(rounds):
        for i in range(x.size):
            out[i] = math.log(x[i] + 1e-9 * r)


@njit(cache=True)
def _divisions(x: Floats, out: Floats, rounds: int) -> None:
    for r in range(rounds):
        for i in range(x.size):
            out[i] = 1.0 / (x[i] + 1e-9 * r)


@njit(cache=True)
def _multiply_adds(x: Floats, out: Floats, rounds: int) -> None:
    """As the pass does them: a row as long as the columns, times a number, added to another row."""
    for r in range(rounds):
        for start in range(0, x.size, ROW):
            by = x[start] + r
            for j in range(ROW):
                out[j] += by * x[start + j]


def measured_costs() -> Operations:
    """Seconds of one operation of each kind, on numbers that lie in the processor's cache."""
    x, out = np.linspace(0.5, 2.0, IN_CACHE), np.zeros(IN_CACHE)

    def each(loop: Callable[[Floats, Floats, int], None]) -> float:
        loop(x, out, 1)
        return best_seconds(lambda: loop(x, out, ROUNDS), 5) / (IN_CACHE * ROUNDS)

    return Operations(each(_exponentials), each(_logarithms), each(_divisions), each(_multiply_adds))


def large_log(drains: int, units: int) -> tuple[Likelihood, Floats]:
    """A likelihood of invented rows, and parameters near those that made them."""
    ratings, log_hours, design, unit = simulated(drains, units, COLUMNS, SEED)
    columns = np.column_stack((log_hours, design))
    centre = columns.mean(axis=0)
    order, starts, _ = by_unit(unit, ratings.size)
    low = ratings[order].astype(np.int64)
    data = Ratings(low, low, np.ascontiguousarray((columns - centre)[order]), starts, 5, True)
    slopes = np.concatenate(([2.2], np.linspace(-0.5, 0.5, COLUMNS)))
    natural = np.concatenate((np.array([3.2, 5.1, 6.9, 8.6]) - centre @ slopes, slopes, [0.8]))
    return Likelihood(data, link_named("logit"), nodes=NODES), natural


def pass_limit(drains: int = DRAINS, units: int = UNITS) -> Chapter:
    """The chapter of the results."""
    likelihood, natural = large_log(drains, units)
    used = likelihood.modes.size
    with one_thread():
        likelihood.expansion(natural)
        measured = best_seconds(lambda: likelihood.expansion(natural), 3)
        each = measured_costs()
    begin = time.perf_counter()
    likelihood.expansion(natural)
    threaded = time.perf_counter() - begin
    cuts, columns = natural.size - COLUMNS - 2, COLUMNS + 1
    first = transcendental(drains, used, NODES).seconds(each)
    second = first + of_scores_and_information(drains, used, NODES, columns, cuts).seconds(each)
    third = second + of_chances(drains, NODES).seconds(each)
    everywhere = Operations(exponentials=2 * drains * NODES, logarithms=drains * NODES).seconds(each)
    limits = (
        ("exponentials and logarithms that are left", first),
        ("the same, and multiply-adds of scores and information", second),
        ("the same, and the arithmetic of the chances", third),
        ("for comparison: two exponentials and a logarithm of every drain at every node, alone", everywhere),
    )
    lines = [
        f"## One pass over {drains:,} drains of {used:,} units, {columns} columns, {NODES} nodes, one thread\n",
        f"Measured {measured:.2f} s ({threaded:.2f} s on all threads). One operation takes, in nanoseconds:",
        f"exponential {1e9 * each.exponentials:.2f}, logarithm {1e9 * each.logarithms:.2f}, "
        f"division {1e9 * each.divisions:.2f}, multiply-add {1e9 * each.multiply_adds:.2f}.\n",
        f"| what the limit counts | limit | measured / limit (goal: {GOAL:g} or less) |",
        "| --- | ---: | ---: |",
        *(f"| {what} | {limit:.3f} s | {measured / limit:.1f} |" for what, limit in limits),
        "\nMultiply-adds are counted at the price they have row by row; the pass does most of them in products of",
        "matrices and several drains side by side, so it can stay under their limit.",
    ]
    return Chapter("\n".join(lines) + "\n")


if __name__ == "__main__":
    print(pass_limit(*(int(text) for text in sys.argv[1:3])).text)
