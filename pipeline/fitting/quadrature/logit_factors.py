"""Probabilities under the logit link at all nodes of a unit from few exponentials and logarithms, compiled.

With s = exp(eta - upper bound) and t = exp(lower bound - eta) the probability of a rating is
(1 - s t) / ((1 + s)(1 + t)), and both exponentials are products of a factor of the drain, one of its bound and one of
the node. So a pass computes one exponential for each drain and one for each node of a unit, instead of two for each
drain at each node, and takes logarithms of products only.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import MODE_TOLERANCE, Drains
from draincurve.pipeline.fitting.quadrature.node_gradient import (
    CURVATURE_LOWER,
    CURVATURE_UPPER,
    THIRD_LOWER,
    THIRD_UPPER,
)
from draincurve.schemas.array_types import Floats

UPPER, LOWER, GAP_RATIO = 0, 1, 2
"""Rows of a drain's factors: of s, of t, and st / (1 - st), which does not depend on the node."""

_REASSOCIATE = {"reassoc", "nsz", "contract"}
"""Lets the compiler add several terms of a sum at a time, without assuming that numbers are finite."""

_LARGEST_EXPONENT = 150.0  # with exponents under this no product overflows
_LARGE = 1e150
_SMALL = 1e-150
_TINY = 1e-80
_NEWTON_STEPS = 12
_LONGEST_STEP = 3.0


@njit(cache=True)
def bound_exponentials(bounds: Floats) -> Floats:
    """exp(-bound) and exp(bound), (2, K + 1), 0 where a bound is infinite."""
    factors = np.zeros((2, bounds.size))
    for k in range(bounds.size):
        if abs(bounds[k]) < math.inf:
            factors[0, k] = math.exp(-bounds[k])
            factors[1, k] = math.exp(bounds[k])
    return factors


@njit(cache=True)
def fill_factors(drains: Drains, first: int, last: int, exp_bounds: Floats, factors: Floats) -> tuple[float, float]:
    """Fill a unit's factors (3, n or more); returns (log_gaps, extent).

    log_gaps : sum of log(1 - s t) over the drains; extent : largest absolute threshold plus largest absolute fixed
    part of a linear predictor, see `products_are_finite`
    """
    product = 1.0
    largest_threshold = 0.0
    for k in range(1, drains.bounds.size - 1):
        largest_threshold = max(largest_threshold, abs(drains.bounds[k]))
    largest_fixed = 0.0
    logs = 0.0
    for i in range(first, last):
        largest_fixed = max(largest_fixed, abs(drains.fixed[i]))
        up = math.exp(min(max(drains.fixed[i], -_LARGEST_EXPONENT), _LARGEST_EXPONENT))
        factors[UPPER, i - first] = up * exp_bounds[0, drains.high[i]]
        factors[LOWER, i - first] = exp_bounds[1, drains.low[i] - 1] / up
        ratio = exp_bounds[0, drains.high[i]] * exp_bounds[1, drains.low[i] - 1]
        gap = 1.0 - ratio
        if ratio >= 0.5:
            gap = max(-math.expm1(drains.bounds[drains.low[i] - 1] - drains.bounds[drains.high[i]]), _TINY)
        factors[GAP_RATIO, i - first] = ratio / gap
        product *= gap
        if product < _SMALL:
            logs += math.log(product)
            product = 1.0
    return logs + math.log(product), largest_threshold + largest_fixed


@njit(cache=True)
def products_are_finite(drains: Drains, extent: float, z: float) -> bool:
    """Whether no product of exponentials overflows for a unit of this extent, at an effect z."""
    return extent + abs(drains.unit_sd * z) < _LARGEST_EXPONENT


@njit(cache=True, fastmath=_REASSOCIATE, error_model="numpy")
def logit_unit_mode(
    drains: Drains, count: int, factors: Floats, extent: float, z: float, tolerance: float = MODE_TOLERANCE
) -> tuple[float, float, bool]:
    """As `adaptive_quadrature.unit_mode`, and whether plain Newton steps converged; if not, the rest is void."""
    for _ in range(_NEWTON_STEPS):
        if not products_are_finite(drains, extent, z):
            return z, 1.0, False
        up = math.exp(drains.unit_sd * z)
        down = 1.0 / up
        by_eta = 0.0
        second = 0.0
        for i in range(count):
            s, t = up * factors[UPPER, i], down * factors[LOWER, i]
            inverse = 1.0 / ((1.0 + s) * (1.0 + t))
            above, below = s * (1.0 + t) * inverse, t * (1.0 + s) * inverse
            by_eta += below - above
            second += above * (1.0 - above) + below * (1.0 - below)
        curvature = 1.0 + drains.unit_sd * drains.unit_sd * second
        step = (drains.unit_sd * by_eta - z) / curvature
        if not abs(step) <= _LONGEST_STEP:
            return z, 1.0, False
        z += step
        if abs(step) < tolerance:
            return z, curvature, True
    return z, 1.0, False


@njit(cache=True)
def log_probabilities(count: int, factors: Floats, up: float, down: float) -> float:
    """Sum of log probabilities of a unit less its log_gaps; up, down : exp(unit_sd z) and its inverse."""
    logs = 0.0
    product = 1.0
    for i in range(count):
        product *= (1.0 + up * factors[UPPER, i]) * (1.0 + down * factors[LOWER, i])
        if product > _LARGE:
            logs += math.log(product)
            product = 1.0
    return -logs - math.log(product)


@njit(cache=True, error_model="numpy")
def fill_logit_terms(
    drains: Drains,
    factors: Floats,
    z: Floats,
    ga: Floats,
    gb: Floats,
    curvature_upper: Floats,
    curvature_lower: Floats,
    by_eta: Floats,
    logs: Floats,
) -> None:
    """Fill a unit's derivatives at the nodes z, (Q, n) as in `NodeValues`, and sums of log P less log_gaps, (Q,).

    No loop writes more than two rows, because the compiler vectorises none that writes more.
    """
    count = ga.shape[1]
    for q in range(z.size):
        up = math.exp(drains.unit_sd * z[q])
        down = 1.0 / up
        above, below = ga[q], gb[q]
        for i in range(count):
            s, t = up * factors[UPPER, i], down * factors[LOWER, i]
            inverse = 1.0 / ((1.0 + s) * (1.0 + t))
            above[i] = s * (1.0 + t) * inverse
            below[i] = t * (1.0 + s) * inverse
        logs[q] = log_probabilities(count, factors, up, down)
    all_above, all_below = ga.reshape(ga.size), gb.reshape(gb.size)
    all_upper, all_lower = curvature_upper.reshape(ga.size), curvature_lower.reshape(ga.size)
    all_eta = by_eta.reshape(ga.size)
    for i in range(all_above.size):
        all_upper[i] = all_above[i] * (all_above[i] - 1.0)
        all_lower[i] = all_below[i] * (all_below[i] - 1.0)
    for i in range(all_above.size):
        all_eta[i] = all_below[i] - all_above[i]
    for q in range(z.size):
        above, below = ga[q], gb[q]
        for i in range(count):
            above[i] += factors[GAP_RATIO, i]
            below[i] = -below[i] - factors[GAP_RATIO, i]


@njit(cache=True, fastmath=_REASSOCIATE, error_model="numpy")
def fill_logit_mode_derivatives(
    drains: Drains, count: int, factors: Floats, mode: float, mode_derivatives: Floats
) -> float:
    """As `adaptive_quadrature.fill_mode_derivatives`, from the factors."""
    up = math.exp(drains.unit_sd * mode)
    down = 1.0 / up
    by_eta = 0.0
    for i in range(count):
        s, t = up * factors[UPPER, i], down * factors[LOWER, i]
        inverse = 1.0 / ((1.0 + s) * (1.0 + t))
        above, below = s * (1.0 + t) * inverse, t * (1.0 + s) * inverse
        by_eta += below - above
        mode_derivatives[CURVATURE_UPPER, i] = -above * (1.0 - above)
        mode_derivatives[CURVATURE_LOWER, i] = -below * (1.0 - below)
        mode_derivatives[THIRD_UPPER, i] = above * (1.0 - above) * (1.0 - 2.0 * above)
        mode_derivatives[THIRD_LOWER, i] = -below * (1.0 - below) * (1.0 - 2.0 * below)
    return by_eta
