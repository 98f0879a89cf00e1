"""Predictive probabilities of ratings under the logit link, compiled and parallel over units.

The exponential of a drain at a point of the grid is the product of one of the drain and one of the point, so a drain
takes one exponential instead of several for each point.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit, prange

from draincurve.pipeline.fitting import LOGIT
from draincurve.pipeline.fitting.quadrature import Drains
from draincurve.schemas.array_types import Floats, Integers

_FAR = 300.0


def without_overflow(drains: Drains, grid: Floats) -> bool:
    """Whether the link is the logit and no product of exponentials can overflow."""
    extent = np.abs(drains.fixed).max(initial=0.0) + np.abs(drains.bounds[1:-1]).max() + drains.unit_sd * grid.max()
    return drains.link == LOGIT and bool(extent < _FAR)


@njit(cache=True, parallel=True)
def logit_predictive_probabilities(
    drains: Drains, starts: Integers, low: Integers, high: Integers, grid: Floats, prior: Floats
) -> tuple[Floats, Floats]:
    """(below, within), each (R, n), as `predictive_probabilities` gives them."""
    logs, n = low.shape
    below = np.empty((logs, n))
    within = np.empty((logs, n))
    at_node = np.exp(drains.unit_sd * grid)
    at_bound = np.exp(-drains.bounds)  # 0 above the top level; the one below the first is not used
    for u in prange(starts.size - 1):
        weight = np.empty(grid.size)
        for r in range(logs):
            weight[:] = prior
            for i in range(starts[u], starts[u + 1]):
                base = math.exp(drains.fixed[i])
                lower, upper = base * at_bound[low[r, i] - 1], base * at_bound[high[r, i]]
                first = low[r, i] == 1
                under = 0.0
                total = 0.0
                for q in range(grid.size):
                    above = 1.0 / (1.0 + at_node[q] * upper)
                    probability = above
                    if not first:
                        s = at_node[q] * lower
                        c = 1.0 / (1.0 + s)
                        under += weight[q] * c
                        probability = (s - at_node[q] * upper) * c * above
                    weight[q] *= probability
                    total += weight[q]
                below[r, i] = under
                within[r, i] = total
                for q in range(grid.size):
                    weight[q] /= total
    return below, within
