"""Predictive probabilities of each rating given the unit's earlier drains, compiled.

The unit's effect z is integrated over its posterior given the drains before, on a fixed grid of equal steps
(the trapezoid rule, which is very accurate for smooth densities once the step is no wider than their own standard
deviation; Trefethen & Weideman 2014, SIAM Rev. 56, 385-458). Ratings of many simulated logs on the same drains share
the table of probabilities, so that a simulation costs little.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from draincurve.pipeline.fitting.quadrature import Drains, log_probability
from draincurve.schemas.array_types import Floats, Integers

_HALF_WIDTH = 14.0
"""Half width of the grid in sds of the unit effect, wide enough for extreme units."""

_INFORMATION = 0.5
"""Upper bound on the information of one rating on its linear predictor (logit 1/3, probit 0.30)."""


def effect_grid(unit_sd: float, link_scale: float, *, most_drains: int) -> Floats:
    """The grid of z, (Q,), with a step smaller than the sd of z after `most_drains` ratings.

    unit_sd : sd of the unit effect on the scale of the link; link_scale : the link's sd relative to the logit's.
    """
    step = 1.0 / math.sqrt(1.0 + _INFORMATION * most_drains * (unit_sd / link_scale) ** 2)
    half = math.ceil(_HALF_WIDTH / step)
    return np.linspace(-_HALF_WIDTH, _HALF_WIDTH, 2 * half + 1)


def long_tailed_prior(grid: Floats) -> Floats:
    """Weights of the grid under a t distribution with 3 degrees of freedom, (Q,).

    With it a unit that is extreme from the start is soon known as such by its own drains; the normal prior would keep
    shrinking it to the fleet, and each of its drains would look like a change.
    """
    weight = (1.0 + grid**2 / 3.0) ** -2.0
    return np.asarray(weight / weight.sum())


@njit(cache=True)
def predictive_probabilities(
    drains: Drains, starts: Integers, low: Integers, high: Integers, grid: Floats, prior: Floats
) -> tuple[Floats, Floats]:
    """(below, within), each (R, n): predictive probability of a rating under the one found, and of the one found.

    drains : their bounds, fixed part and unit_sd; low, high : ratings (R, n) of R logs on the same drains; starts :
    slice bounds of units (U + 1,), drains of a unit in order of time; grid : grid of z (Q,); prior : its weights
    before a unit's first drain (Q,).
    """
    logs, n = low.shape
    levels = drains.bounds.size - 1
    below = np.empty((logs, n))
    within = np.empty((logs, n))
    probability = np.empty((levels, grid.size))
    found = np.empty(grid.size)
    weight = np.empty((logs, grid.size))
    for u in range(starts.size - 1):
        for r in range(logs):
            weight[r] = prior
        for i in range(starts[u], starts[u + 1]):
            _fill_probabilities(drains, i, high[:, i].max(), grid, probability)
            for r in range(logs):
                under = 0.0
                total = 0.0
                for q in range(grid.size):
                    w = weight[r, q]
                    for k in range(low[r, i] - 1):
                        under += w * probability[k, q]
                    found[q] = 0.0
                    for k in range(low[r, i] - 1, high[r, i]):
                        found[q] += probability[k, q]
                    found[q] *= w
                    total += found[q]
                below[r, i] = under
                within[r, i] = total
                for q in range(grid.size):
                    weight[r, q] = found[q] / total
    return below, within


@njit(cache=True)
def _fill_probabilities(drains: Drains, i: int, highest: int, grid: Floats, probability: Floats) -> None:
    """Fill the probabilities of ratings 1 to `highest` of drain i at every point of the grid, (levels, Q)."""
    for k in range(highest):
        for q in range(grid.size):
            eta = drains.fixed[i] + drains.unit_sd * grid[q]
            probability[k, q] = math.exp(
                max(log_probability(drains.link, drains.bounds[k + 1] - eta, drains.bounds[k] - eta), -700.0)
            )
