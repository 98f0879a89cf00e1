"""Marginal likelihood of the rating model by adaptive Gauss-Hermite quadrature, compiled and parallel.

For each unit, Newton's method finds the mode of the log joint density in the unit's effect z; the nodes are centred
there and scaled by the curvature (Liu & Pierce 1994, Biometrika 81, 624-629; one node is the Laplace approximation).
Drains are sorted by unit, so a unit is a slice. Units are summed in a fixed number of blocks, so that the sums do not
depend on the number of threads.

The gradient is exact for the quadrature sum itself, with any number of nodes: Fisher's identity over the nodes, plus
the terms that come from the nodes moving with the parameters (`node_gradient`).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit, prange

from draincurve.pipeline.fitting.quadrature.node_gradient import (
    CURVATURE_LOWER,
    CURVATURE_UPPER,
    THIRD_LOWER,
    THIRD_UPPER,
    add_node_gradient,
)
from draincurve.pipeline.fitting.quadrature.rating_probability import (
    ProbabilityTerms,
    curvature_derivatives,
    log_probability,
    probability_terms,
    second_derivatives,
)
from draincurve.pipeline.fitting.thread_limits import compiled_loop
from draincurve.schemas.array_types import Floats, Integers

_NEWTON_STEPS = 200
MODE_TOLERANCE = 1e-9
LOOSE_MODE_TOLERANCE = 1e-3
"""Enough where no gradient is taken: the sum over nine nodes hardly changes with so small a shift of the nodes."""
_LARGEST_STEP = 3.0
HALF_LOG_TWO_PI = 0.9189385332046727


class Drains(NamedTuple):
    """Ratings under one set of parameters.

    link : the link's code; low, high : int64 (n,), from 1 to K, equal unless a range was typed; bounds : float64
    (K + 1,), -inf, the thresholds, +inf, so that rating k is between bounds[k - 1] and bounds[k]; fixed : float64
    (n,), the linear predictor without the unit's effect; unit_sd : sd of the unit effect
    """

    link: int
    low: Integers
    high: Integers
    bounds: Floats
    fixed: Floats
    unit_sd: float


class Rule(NamedTuple):
    """Gauss-Hermite nodes x_q and log weights log(w_q) + x_q^2, each float64 (Q,)."""

    nodes: Floats
    log_weights: Floats


class UnitSlices(NamedTuple):
    """First drain of each unit, int64 (U + 1,), and first unit of each block, int64 (B + 1,), with the ends last."""

    starts: Integers
    blocks: Integers


@njit(cache=True)
def longest_unit(starts: Integers) -> int:
    """The largest number of drains of one unit."""
    longest = 0
    for u in range(starts.size - 1):
        longest = max(longest, starts[u + 1] - starts[u])
    return longest


@njit(cache=True)
def terms_at(drains: Drains, i: int, z: float) -> ProbabilityTerms:
    """The terms of the probability of rating i when its unit's effect is z."""
    eta = drains.fixed[i] + drains.unit_sd * z
    return probability_terms(drains.link, drains.bounds[drains.high[i]] - eta, drains.bounds[drains.low[i] - 1] - eta)


@njit(cache=True)
def unit_mode(
    drains: Drains, first: int, last: int, z: float, tolerance: float = MODE_TOLERANCE
) -> tuple[float, float]:
    """(mode, curvature): the maximum of a unit's log joint density in z, and minus its second derivative there.

    Newton inside a bracket: where unit effects are large the log density is nearly linear on both sides, and plain
    Newton steps would oscillate across the mode.
    """
    curvature = 1.0
    left, right = -math.inf, math.inf
    for _ in range(_NEWTON_STEPS):
        slope = -z
        curvature = 1.0
        for i in range(first, last):
            terms = terms_at(drains, i, z)
            aa, ab, bb = second_derivatives(terms)
            slope -= drains.unit_sd * (terms[1] + terms[2])
            curvature -= drains.unit_sd * drains.unit_sd * (aa + 2.0 * ab + bb)
        curvature = max(curvature, 1.0)
        if slope > 0.0:
            left = z
        else:
            right = z
        step = min(max(slope / curvature, -_LARGEST_STEP), _LARGEST_STEP)
        if not left < z + step < right and abs(step) >= tolerance:
            step = (left + right) / 2.0 - z
        z += step
        if not abs(step) >= tolerance:
            break
    return z, curvature


@njit(cache=True)
def log_joint_density(drains: Drains, first: int, last: int, z: float) -> float:
    """Log density of a unit's ratings and its effect z, less the constant of the normal density."""
    total = -0.5 * z * z
    for i in range(first, last):
        eta = drains.fixed[i] + drains.unit_sd * z
        total += log_probability(
            drains.link, drains.bounds[drains.high[i]] - eta, drains.bounds[drains.low[i] - 1] - eta
        )
    return total


@njit(cache=True)
def node_weights(
    drains: Drains, first: int, last: int, mode: float, curvature: float, rule: Rule, z_at: Floats, weight: Floats
) -> float:
    """Fill one unit's node locations and posterior weights, each (Q,); returns its log marginal likelihood."""
    scale = math.sqrt(2.0 / curvature)
    top = -math.inf
    for q in range(rule.nodes.size):
        z_at[q] = mode + scale * rule.nodes[q]
        weight[q] = rule.log_weights[q] + log_joint_density(drains, first, last, z_at[q])
        top = max(top, weight[q])
    total = 0.0
    for q in range(rule.nodes.size):
        weight[q] = math.exp(weight[q] - top)
        total += weight[q]
    for q in range(rule.nodes.size):
        weight[q] /= total
    return top + math.log(total) + math.log(scale) - HALF_LOG_TWO_PI


@compiled_loop
def value_and_gradient(
    drains: Drains, slices: UnitSlices, modes: Floats, rule: Rule, by_predictor: Floats
) -> tuple[float, Floats, float]:
    """(log likelihood, gradient by thresholds (K - 1,), gradient by unit sd); fills the gradient by linear predictor.

    by_predictor : (n,), filled; modes : (U,), starts of the searches on entry and the modes on return, so that the
    next call starts near them.
    """
    n_blocks = slices.blocks.size - 1
    n_bounds = drains.bounds.size
    value = np.zeros(n_blocks)
    by_bound = np.zeros((n_blocks, n_bounds))
    by_unit_sd = np.zeros(n_blocks)
    longest = longest_unit(slices.starts)
    for block in prange(n_blocks):
        mode_derivatives = np.empty((4, longest))
        z_at = np.empty(rule.nodes.size)
        weight = np.empty(rule.nodes.size)
        for u in range(slices.blocks[block], slices.blocks[block + 1]):
            first, last = slices.starts[u], slices.starts[u + 1]
            mode, curvature = unit_mode(drains, first, last, modes[u])
            modes[u] = mode
            value[block] += node_weights(drains, first, last, mode, curvature, rule, z_at, weight)
            at_fixed_nodes, slope, slope_node = _fisher_gradient(
                drains, first, last, rule, z_at, weight, by_predictor, by_bound[block]
            )
            by_eta = fill_mode_derivatives(drains, first, last, mode, mode_derivatives)
            from_moving_nodes = add_node_gradient(
                drains.low[first:last],
                drains.high[first:last],
                drains.unit_sd,
                mode,
                curvature,
                slope,
                slope_node,
                by_eta,
                mode_derivatives,
                by_predictor[first:last],
                by_bound[block],
            )
            by_unit_sd[block] += at_fixed_nodes + from_moving_nodes
    total = np.zeros(n_bounds + 1)
    # Plain loops: in a parallel function `sum` itself is split over the threads, and its last bits depend on them.
    for block in range(n_blocks):
        total[n_bounds] += value[block]
        total[0] += by_unit_sd[block]
        for k in range(1, n_bounds - 1):
            total[k] += by_bound[block, k]
    return total[n_bounds], total[1 : n_bounds - 1], total[0]


@njit(cache=True)
def _fisher_gradient(
    drains: Drains,
    first: int,
    last: int,
    rule: Rule,
    z_at: Floats,
    weight: Floats,
    by_predictor: Floats,
    by_bound: Floats,
) -> tuple[float, float, float]:
    """Fisher's identity for one unit: the expected complete-data gradient over the nodes, held fixed.

    Sets its rows of `by_predictor`, adds to `by_bound`; returns the part by the unit sd, and the means of the log
    joint density's derivative by z and of that derivative x node, for `add_node_gradient`.
    """
    by_unit_sd = 0.0
    mean_slope = 0.0
    mean_slope_node = 0.0
    for i in range(first, last):
        by_predictor[i] = 0.0
    for q in range(z_at.size):
        by_eta_sum = 0.0
        for i in range(first, last):
            terms = terms_at(drains, i, z_at[q])
            by_eta = -(terms[1] + terms[2])
            by_eta_sum += by_eta
            by_predictor[i] += weight[q] * by_eta
            by_bound[drains.high[i]] += weight[q] * terms[1]
            by_bound[drains.low[i] - 1] += weight[q] * terms[2]
        slope = drains.unit_sd * by_eta_sum - z_at[q]
        by_unit_sd += weight[q] * z_at[q] * by_eta_sum
        mean_slope += weight[q] * slope
        mean_slope_node += weight[q] * slope * rule.nodes[q]
    return by_unit_sd, mean_slope, mean_slope_node


@njit(cache=True)
def fill_mode_derivatives(drains: Drains, first: int, last: int, mode: float, mode_derivatives: Floats) -> float:
    """Fill a unit's derivatives at its mode, (4, n or more), see `node_gradient`.

    Returns the sum of the derivatives of log P by the linear predictor.
    """
    by_eta = 0.0
    for i in range(first, last):
        terms = terms_at(drains, i, mode)
        aa, ab, bb = second_derivatives(terms)
        by_eta -= terms[1] + terms[2]
        mode_derivatives[CURVATURE_UPPER, i - first] = aa + ab
        mode_derivatives[CURVATURE_LOWER, i - first] = ab + bb
        mode_derivatives[THIRD_UPPER, i - first], mode_derivatives[THIRD_LOWER, i - first] = curvature_derivatives(
            terms
        )
    return by_eta
