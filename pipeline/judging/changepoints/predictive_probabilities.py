"""Where each rating falls in what a unit's earlier drains led to expect, compiled.

The unit's effect z is integrated over its posterior given the drains before, on a fixed grid of equal steps
(the trapezoid rule, which is very accurate for smooth densities once the step is no wider than their own standard
deviation; Trefethen & Weideman 2014, SIAM Rev. 56, 385-458). Ratings of many simulated logs on the same drains share
the table of chances, so that a simulation costs little.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import Drains
from draincurve.pipeline.fitting.quadrature.rating_probability import log_probability
from draincurve.schemas.array_types import Floats, Integers

_REACH = 14.0
"""The grid reaches so many sd of units either side of the typical one: far-out units have room in it."""

_INFORMATION = 0.5
"""Bound on what one rating tells of its linear predictor, in the links' own units (logit 1/3, probit 0.30)."""


def effect_grid(spread: float, link_scale: float, most_drains: int) -> Floats:
    """Places z of the grid, (Q,), with a step under the sd of z after `most_drains` ratings.

    spread : sd of the unit effect on the scale of the link; link_scale : the link's sd relative to the logit's.
    """
    step = 1.0 / math.sqrt(1.0 + _INFORMATION * most_drains * (spread / link_scale) ** 2)
    half = math.ceil(_REACH / step)
    return np.linspace(-_REACH, _REACH, 2 * half + 1)


def normal_prior(places: Floats) -> Floats:
    """Weights of the places under the model's own prior, (Q,)."""
    weight = np.exp(-0.5 * places**2)
    return np.asarray(weight / weight.sum())


def long_tailed_prior(places: Floats) -> Floats:
    """Weights of the places under a t distribution with 3 degrees of freedom, (Q,).

    With it a unit that lies far out from the start is soon known as such by its own drains; the normal prior would go
    on pulling it to the fleet, and every one of its drains would look like a change.
    """
    weight = (1.0 + places**2 / 3.0) ** -2.0
    return np.asarray(weight / weight.sum())


@njit(cache=True)
def sequential_chances(
    drains: Drains, starts: Integers, low: Integers, high: Integers, places: Floats, prior: Floats
) -> tuple[Floats, Floats]:
    """(below, within), each (R, n): predictive chance of a rating under the one found, and of the one found.

    drains : their cuts, base and spread serve, ratings are those of `low` and `high` (R, n), R logs on the same
    drains; starts : slice bounds of units (U + 1,), drains of a unit in order of time; places : grid of z (Q,);
    prior : its weights before a unit's first drain (Q,).
    """
    logs, n = low.shape
    levels = drains.bounds.size - 1
    below = np.empty((logs, n))
    within = np.empty((logs, n))
    chance = np.empty((levels, places.size))
    found = np.empty(places.size)
    weight = np.empty((logs, places.size))
    for u in range(starts.size - 1):
        for r in range(logs):
            weight[r] = prior
        for i in range(starts[u], starts[u + 1]):
            _fill_chances(drains, i, high[:, i].max(), places, chance)
            for r in range(logs):
                under = 0.0
                total = 0.0
                for q in range(places.size):
                    w = weight[r, q]
                    for k in range(low[r, i] - 1):
                        under += w * chance[k, q]
                    found[q] = 0.0
                    for k in range(low[r, i] - 1, high[r, i]):
                        found[q] += chance[k, q]
                    found[q] *= w
                    total += found[q]
                below[r, i] = under
                within[r, i] = total
                for q in range(places.size):
                    weight[r, q] = found[q] / total
    return below, within


@njit(cache=True)
def _fill_chances(drains: Drains, i: int, highest: int, places: Floats, chance: Floats) -> None:
    """Fill the chances of ratings 1 to `highest` of drain i at every place of the grid, (levels, Q)."""
    for k in range(highest):
        for q in range(places.size):
            eta = drains.fixed[i] + drains.unit_sd * places[q]
            chance[k, q] = math.exp(
                max(log_probability(drains.link, drains.bounds[k + 1] - eta, drains.bounds[k] - eta), -700.0)
            )
