"""Chances under the logit link at all nodes of a unit without an exponential a chance, compiled.

With s = exp(-(upper cut - eta)) and t = exp(lower cut - eta) the chance of a rating is
(1 - s t) / ((1 + s)(1 + t)), and both exponentials are products of one factor of the drain, one of its cuts and one
of the node. So a pass takes an exponential a drain and one a unit's node instead of two for each drain at each node,
and the logarithms are taken of products.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import CLOSE, Drains
from draincurve.pipeline.fitting.quadrature.node_gradient import BEND_DOWN, BEND_UP, THIRD_DOWN, THIRD_UP
from draincurve.schemas.array_types import Floats

UP, DOWN, BESIDE = 0, 1, 2
"""Rows of factors: of s, of t, and exp(lower cut - upper cut) over one less itself."""

_ANY_ORDER = {"reassoc", "nsz", "contract"}
"""Lets the compiler take a sum's terms several at a time; what is not finite stays what it is."""

_FAR = 150.0  # linear predictors under this keep every product far from overflow
_LARGE = 1e150
_SMALL = 1e-150
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
    """Fill a unit's factors (3, n or more); the log of all gaps' product, and how far out its drains and cuts lie."""
    product = 1.0
    far = 0.0
    for k in range(1, drains.cuts.size - 1):
        far = max(far, abs(drains.cuts[k]))
    farthest = 0.0
    logs = 0.0
    for i in range(first, last):
        farthest = max(farthest, abs(drains.base[i]))
        up = math.exp(min(max(drains.base[i], -_FAR), _FAR))
        factors[UP, i - first] = up * by_cut[0, drains.high[i]]
        factors[DOWN, i - first] = by_cut[1, drains.low[i] - 1] / up
        beside = by_cut[0, drains.high[i]] * by_cut[1, drains.low[i] - 1]
        gap = 1.0 - beside
        if beside >= 0.5:
            gap = max(-math.expm1(drains.cuts[drains.low[i] - 1] - drains.cuts[drains.high[i]]), _TINY)
        factors[BESIDE, i - first] = beside / gap
        product *= gap
        if product < _SMALL:
            logs += math.log(product)
            product = 1.0
    return logs + math.log(product), far + farthest


@njit(cache=True)
def near_enough(drains: Drains, reach: float, z: float) -> bool:
    """Whether no product overflows for a unit that lies `reach` out, at an effect z."""
    return reach + abs(drains.spread * z) < _FAR


@njit(cache=True, fastmath=_ANY_ORDER, error_model="numpy")
def logit_mode(
    drains: Drains, count: int, factors: Floats, reach: float, z: float, close: float = CLOSE
) -> tuple[float, float, bool]:
    """(mode, curvature, whether free Newton steps got there) as `adaptive_quadrature.unit_mode` has them."""
    for _ in range(_NEWTON_STEPS):
        if not near_enough(drains, reach, z):
            return z, 1.0, False
        up = math.exp(drains.spread * z)
        down = 1.0 / up
        by_eta = 0.0
        bend = 0.0
        for i in range(count):
            s, t = up * factors[UP, i], down * factors[DOWN, i]
            share = 1.0 / ((1.0 + s) * (1.0 + t))
            above, below = s * (1.0 + t) * share, t * (1.0 + s) * share
            by_eta += below - above
            bend += above * (1.0 - above) + below * (1.0 - below)
        curvature = 1.0 + drains.spread * drains.spread * bend
        step = (drains.spread * by_eta - z) / curvature
        if not abs(step) <= _LONGEST_STEP:
            return z, 1.0, False
        z += step
        if abs(step) < close:
            return z, curvature, True
    return z, 1.0, False


@njit(cache=True)
def log_chances(count: int, factors: Floats, up: float, down: float) -> float:
    """Log of a unit's chances but for the gaps, at an effect z with `up` = exp(spread z) and `down` one over it."""
    logs = 0.0
    product = 1.0
    for i in range(count):
        product *= (1.0 + up * factors[UP, i]) * (1.0 + down * factors[DOWN, i])
        if product > _LARGE:
            logs += math.log(product)
            product = 1.0
    return -logs - math.log(product)


@njit(cache=True, error_model="numpy")
def fill_nodes(
    drains: Drains,
    factors: Floats,
    places: Floats,
    ga: Floats,
    gb: Floats,
    bend_up: Floats,
    bend_down: Floats,
    by_eta: Floats,
    logs: Floats,
) -> None:
    """Fill what `node_values` keeps of a unit's chances at the nodes, (Q, n), and the logs but for the gaps, (Q,).

    One loop for every two rows: the compiler makes none side by side that writes more of them.
    """
    count = ga.shape[1]
    for q in range(places.size):
        up = math.exp(drains.spread * places[q])
        down = 1.0 / up
        above, below = ga[q], gb[q]
        for i in range(count):
            s, t = up * factors[UP, i], down * factors[DOWN, i]
            share = 1.0 / ((1.0 + s) * (1.0 + t))
            above[i] = s * (1.0 + t) * share
            below[i] = t * (1.0 + s) * share
        logs[q] = log_chances(count, factors, up, down)
    every_above, every_below = ga.reshape(ga.size), gb.reshape(gb.size)
    every_up, every_down, every_eta = bend_up.reshape(ga.size), bend_down.reshape(ga.size), by_eta.reshape(ga.size)
    for i in range(every_above.size):
        every_up[i] = every_above[i] * (every_above[i] - 1.0)
        every_down[i] = every_below[i] * (every_below[i] - 1.0)
    for i in range(every_above.size):
        every_eta[i] = every_below[i] - every_above[i]
    for q in range(places.size):
        above, below = ga[q], gb[q]
        for i in range(count):
            above[i] += factors[BESIDE, i]
            below[i] = -below[i] - factors[BESIDE, i]


@njit(cache=True, fastmath=_ANY_ORDER, error_model="numpy")
def fill_mode(drains: Drains, count: int, factors: Floats, mode: float, at_mode: Floats) -> float:
    """As `adaptive_quadrature.fill_mode`, by the factors."""
    up = math.exp(drains.spread * mode)
    down = 1.0 / up
    by_eta = 0.0
    for i in range(count):
        s, t = up * factors[UP, i], down * factors[DOWN, i]
        share = 1.0 / ((1.0 + s) * (1.0 + t))
        above, below = s * (1.0 + t) * share, t * (1.0 + s) * share
        by_eta += below - above
        at_mode[BEND_UP, i] = -above * (1.0 - above)
        at_mode[BEND_DOWN, i] = -below * (1.0 - below)
        at_mode[THIRD_UP, i] = above * (1.0 - above) * (1.0 - 2.0 * above)
        at_mode[THIRD_DOWN, i] = -below * (1.0 - below) * (1.0 - 2.0 * below)
    return by_eta
