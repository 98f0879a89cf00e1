"""`sequential_scores.sequential_chances` for a large log under the logit link, compiled and parallel over units.

The exponential of a drain at a place of the grid is the product of one of the drain and one of the place, so that a
drain takes one exponential instead of several a place.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit, prange

from draincurve.pipeline.fitting.links import LOGIT
from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import Drains
from draincurve.schemas.array_types import Floats, Integers

_FAR = 300.0


def without_overflow(drains: Drains, places: Floats) -> bool:
    """Whether the link is the logit and no product of exponentials can overflow."""
    reach = np.abs(drains.fixed).max(initial=0.0) + np.abs(drains.bounds[1:-1]).max() + drains.unit_sd * places.max()
    return drains.link == LOGIT and bool(reach < _FAR)


@njit(cache=True, parallel=True)
def logit_sequential_chances(
    drains: Drains, starts: Integers, low: Integers, high: Integers, places: Floats, prior: Floats
) -> tuple[Floats, Floats]:
    """(below, within), each (R, n), as `sequential_chances` has them."""
    logs, n = low.shape
    below = np.empty((logs, n))
    within = np.empty((logs, n))
    at_place = np.exp(drains.unit_sd * places)
    at_cut = np.exp(-drains.bounds)  # 0 over the top level; that below the first is not used
    for u in prange(starts.size - 1):
        weight = np.empty(places.size)
        for r in range(logs):
            weight[:] = prior
            for i in range(starts[u], starts[u + 1]):
                base = math.exp(drains.fixed[i])
                lower, upper = base * at_cut[low[r, i] - 1], base * at_cut[high[r, i]]
                first = low[r, i] == 1
                under = 0.0
                total = 0.0
                for q in range(places.size):
                    above = 1.0 / (1.0 + at_place[q] * upper)
                    chance = above
                    if not first:
                        s = at_place[q] * lower
                        c = 1.0 / (1.0 + s)
                        under += weight[q] * c
                        chance = (s - at_place[q] * upper) * c * above
                    weight[q] *= chance
                    total += weight[q]
                below[r, i] = under
                within[r, i] = total
                for q in range(places.size):
                    weight[q] /= total
    return below, within
