"""Chances under the logit link at all nodes of a unit without an exponential a chance, compiled.

With s = exp(-(upper cut - eta)) and t = exp(lower cut - eta) the chance of a rating is
(1 - s t) / ((1 + s)(1 + t)), and both exponentials are products of one factor of the drain, one of its cuts and one
of the node. So a pass takes two exponentials a drain and two a node instead of two for each drain at each node, and
the logarithms are taken of products.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from pipeline.fitting.quadrature import CLOSE, Drains, Floats

GA, GB, AA, BB = 0, 1, 2, 3
"""Kept for each node and drain: derivative of log P by the upper and the lower cut, and second derivatives by each;
the mixed one is minus the product of the first two."""

UP, DOWN, BESIDE = 0, 1, 2
"""Factors of a drain: of s, of t, and exp(lower cut - upper cut) over one less itself."""

_FAR = 150.0  # linear predictors under this keep every product far from overflow
_LARGE = 1e150
_TINY = 1e-80
_NEWTON_STEPS = 12
_LONGEST_STEP = 3.0


@njit(cache=True)
def cut_factors(cuts: Floats) -> Floats:
    """exp(-cut) and exp(cut), (2, K + 1), 0 where a cut is infinite."""
    factors = np.zeros((2, cuts.size))
    for k in range(cuts.size):
        if abs(cuts[k]) < math.inf:
            factors[0, k] = math.exp(-cuts[k])
            factors[1, k] = math.exp(cuts[k])
    return factors


@njit(cache=True)
def fill_factors(drains: Drains, first: int, last: int, by_cut: Floats, factors: Floats) -> tuple[float, float]:
    """Fill a unit's factors (n, 3); the log of all gaps' product, and how far out its drains and cuts lie."""
    logs = 0.0
    far = 0.0
    for k in range(1, drains.cuts.size - 1):
        far = max(far, abs(drains.cuts[k]))
    farthest = 0.0
    for i in range(first, last):
        own = factors[i - first]
        farthest = max(farthest, abs(drains.base[i]))
        up = math.exp(min(max(drains.base[i], -_FAR), _FAR))
        own[UP] = up * by_cut[0, drains.high[i]]
        own[DOWN] = by_cut[1, drains.low[i] - 1] / up
        beside = by_cut[0, drains.high[i]] * by_cut[1, drains.low[i] - 1]
        gap = 1.0 - beside
        if beside >= 0.5:
            gap = max(-math.expm1(drains.cuts[drains.low[i] - 1] - drains.cuts[drains.high[i]]), _TINY)
        own[BESIDE] = beside / gap
        logs += math.log(gap)
    return logs, far + farthest


@njit(cache=True)
def near_enough(drains: Drains, reach: float, z: float) -> bool:
    """Whether no product overflows for a unit that lies `reach` out, at an effect z."""
    return reach + abs(drains.spread * z) < _FAR


@njit(cache=True)
def logit_mode(drains: Drains, count: int, factors: Floats, reach: float, z: float) -> tuple[float, float, bool]:
    """(mode, curvature, whether free Newton steps got there) as `quadrature.unit_mode` has them."""
    for _ in range(_NEWTON_STEPS):
        if not near_enough(drains, reach, z):
            return z, 1.0, False
        up = math.exp(drains.spread * z)
        down = 1.0 / up
        by_eta = 0.0
        bend = 0.0
        for i in range(count):
            s, t = up * factors[i, UP], down * factors[i, DOWN]
            share = 1.0 / ((1.0 + s) * (1.0 + t))
            above, below = s * (1.0 + t) * share, t * (1.0 + s) * share
            by_eta += below - above
            bend += above * (1.0 - above) + below * (1.0 - below)
        curvature = 1.0 + drains.spread * drains.spread * bend
        step = (drains.spread * by_eta - z) / curvature
        if not abs(step) <= _LONGEST_STEP:
            return z, 1.0, False
        z += step
        if abs(step) < CLOSE:
            return z, curvature, True
    return z, 1.0, False


@njit(cache=True)
def fill_node(drains: Drains, count: int, factors: Floats, z: float, kept: Floats) -> float:
    """Fill what is kept of a unit's chances at an effect z, (n, 4); the log of their product but for the gaps."""
    up = math.exp(drains.spread * z)
    down = 1.0 / up
    logs = 0.0
    product = 1.0
    for i in range(count):
        s, t = up * factors[i, UP], down * factors[i, DOWN]
        both = (1.0 + s) * (1.0 + t)
        share = 1.0 / both
        above, below = s * (1.0 + t) * share, t * (1.0 + s) * share
        ga, gb = above + factors[i, BESIDE], -below - factors[i, BESIDE]
        kept[i, GA] = ga
        kept[i, GB] = gb
        kept[i, AA] = ga * (2.0 * above - 1.0 - ga)
        kept[i, BB] = gb * (1.0 - 2.0 * below - gb)
        product *= both
        if product > _LARGE:
            logs += math.log(product)
            product = 1.0
    return -logs - math.log(product)
