"""Marginal likelihood of the rating model by adaptive Gauss-Hermite quadrature, compiled and parallel.

Per unit: Newton to the mode of the log joint density in the unit's effect z, nodes scaled by the curvature there
(Liu & Pierce 1994, Biometrika 81, 624-629; one node is the Laplace approximation). Drains are sorted by unit, a unit
is a slice, and units are worked off in a fixed number of blocks, so that sums do not depend on the thread count.

The gradient is exact for the quadrature sum itself: Fisher's identity over the nodes plus the terms by which the
nodes move with the parameters (`node_gradient`), so it holds at one node as at twenty-five.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit, prange

from draincurve.pipeline.fitting.quadrature.node_gradient import (
    BEND_DOWN,
    BEND_UP,
    THIRD_DOWN,
    THIRD_UP,
    moving_nodes,
)
from draincurve.pipeline.fitting.quadrature.rating_probability import (
    Cell,
    cell,
    curvature_slopes,
    log_cell,
    second_derivatives,
)
from draincurve.schemas.array_types import Floats, Integers

_NEWTON_STEPS = 200
CLOSE = 1e-9
NEAR = 1e-3
"""Where nodes need not move exactly with the parameters: nine of them do not notice so small a shift."""
_LARGEST_STEP = 3.0
HALF_LOG_TWO_PI = 0.9189385332046727


class Drains(NamedTuple):
    """Ratings under one set of parameters.

    link : the link's code; low, high : int64 (n,), from 1 to K, equal unless a range was typed; cuts : float64
    (K + 1,), from -inf over the thresholds to +inf; base : float64 (n,), linear predictor without the unit's effect;
    spread : sd of the unit effect.
    """

    link: int
    low: Integers
    high: Integers
    cuts: Floats
    base: Floats
    spread: float


class Rule(NamedTuple):
    """Gauss-Hermite nodes x_q and log weights log(w_q) + x_q^2, each float64 (Q,)."""

    nodes: Floats
    log_weights: Floats


class Groups(NamedTuple):
    """Slice bounds of units, int64 (U + 1,), and unit bounds of blocks, int64 (B + 1,)."""

    starts: Integers
    blocks: Integers


@njit(cache=True)
def longest_unit(starts: Integers) -> int:
    """Most drains of one unit."""
    longest = 0
    for u in range(starts.size - 1):
        longest = max(longest, starts[u + 1] - starts[u])
    return longest


@njit(cache=True)
def cell_at(drains: Drains, i: int, z: float) -> Cell:
    """The cell of drain i when its unit's effect is z."""
    eta = drains.base[i] + drains.spread * z
    return cell(drains.link, drains.cuts[drains.high[i]] - eta, drains.cuts[drains.low[i] - 1] - eta)


@njit(cache=True)
def unit_mode(drains: Drains, first: int, last: int, z: float, close: float = CLOSE) -> tuple[float, float]:
    """(mode, curvature): where a unit's log joint density peaks in z, and minus its second derivative there.

    Newton inside a bracket: where unit effects are large the density's sides are nearly straight, and free Newton
    steps would leap to and fro over the peak.
    """
    curvature = 1.0
    left, right = -math.inf, math.inf
    for _ in range(_NEWTON_STEPS):
        slope = -z
        curvature = 1.0
        for i in range(first, last):
            parts = cell_at(drains, i, z)
            aa, ab, bb = second_derivatives(parts)
            slope -= drains.spread * (parts[1] + parts[2])
            curvature -= drains.spread * drains.spread * (aa + 2.0 * ab + bb)
        curvature = max(curvature, 1.0)
        if slope > 0.0:
            left = z
        else:
            right = z
        step = min(max(slope / curvature, -_LARGEST_STEP), _LARGEST_STEP)
        if not left < z + step < right and abs(step) >= close:
            step = (left + right) / 2.0 - z
        z += step
        if not abs(step) >= close:
            break
    return z, curvature


@njit(cache=True)
def log_joint(drains: Drains, first: int, last: int, z: float) -> float:
    """Log density of a unit's ratings and its effect z, less the constant of the normal density."""
    total = -0.5 * z * z
    for i in range(first, last):
        eta = drains.base[i] + drains.spread * z
        total += log_cell(drains.link, drains.cuts[drains.high[i]] - eta, drains.cuts[drains.low[i] - 1] - eta)
    return total


@njit(cache=True)
def node_weights(
    drains: Drains, first: int, last: int, mode: float, curvature: float, rule: Rule, z_at: Floats, weight: Floats
) -> float:
    """Fill the nodes' places and posterior weights of one unit, each (Q,); returns its log marginal likelihood."""
    scale = math.sqrt(2.0 / curvature)
    top = -math.inf
    for q in range(rule.nodes.size):
        z_at[q] = mode + scale * rule.nodes[q]
        weight[q] = rule.log_weights[q] + log_joint(drains, first, last, z_at[q])
        top = max(top, weight[q])
    total = 0.0
    for q in range(rule.nodes.size):
        weight[q] = math.exp(weight[q] - top)
        total += weight[q]
    for q in range(rule.nodes.size):
        weight[q] /= total
    return top + math.log(total) + math.log(scale) - HALF_LOG_TWO_PI


@njit(cache=True, parallel=True)
def value_and_gradient(
    drains: Drains, groups: Groups, modes: Floats, rule: Rule, by_base: Floats
) -> tuple[float, Floats, float]:
    """(log likelihood, gradient by thresholds (K - 1,), gradient by spread); fills `by_base` (n,) and `modes` (U,).

    `modes` holds the starting points on entry and the modes on return, so that the next call starts near.
    """
    n_blocks = groups.blocks.size - 1
    n_cuts = drains.cuts.size
    value = np.zeros(n_blocks)
    by_cut = np.zeros((n_blocks, n_cuts))
    by_spread = np.zeros(n_blocks)
    longest = longest_unit(groups.starts)
    for block in prange(n_blocks):
        at_mode = np.empty((4, longest))
        z_at = np.empty(rule.nodes.size)
        weight = np.empty(rule.nodes.size)
        for u in range(groups.blocks[block], groups.blocks[block + 1]):
            first, last = groups.starts[u], groups.starts[u + 1]
            mode, curvature = unit_mode(drains, first, last, modes[u])
            modes[u] = mode
            value[block] += node_weights(drains, first, last, mode, curvature, rule, z_at, weight)
            still, slope, slope_node = _still_nodes(drains, first, last, rule, z_at, weight, by_base, by_cut[block])
            by_eta = fill_mode(drains, first, last, mode, at_mode)
            moving = moving_nodes(
                drains.low[first:last],
                drains.high[first:last],
                drains.spread,
                mode,
                curvature,
                slope,
                slope_node,
                by_eta,
                at_mode,
                by_base[first:last],
                by_cut[block],
            )
            by_spread[block] += still + moving
    total = np.zeros(n_cuts + 1)
    # Plain loops: inside a parallel function `sum` is itself split over the threads, and its last bits with them.
    for block in range(n_blocks):
        total[n_cuts] += value[block]
        total[0] += by_spread[block]
        for k in range(1, n_cuts - 1):
            total[k] += by_cut[block, k]
    return total[n_cuts], total[1 : n_cuts - 1], total[0]


@njit(cache=True)
def _still_nodes(
    drains: Drains,
    first: int,
    last: int,
    rule: Rule,
    z_at: Floats,
    weight: Floats,
    by_base: Floats,
    by_cut: Floats,
) -> tuple[float, float, float]:
    """Fisher's identity for one unit: expected complete-data gradient over the nodes.

    Sets its rows of `by_base`, adds to `by_cut`; returns the spread's part, and the means of the density's slope in
    z and of that slope times the node, which the moving nodes need.
    """
    by_spread = 0.0
    mean_slope = 0.0
    mean_slope_node = 0.0
    for i in range(first, last):
        by_base[i] = 0.0
    for q in range(z_at.size):
        by_eta_sum = 0.0
        for i in range(first, last):
            parts = cell_at(drains, i, z_at[q])
            by_eta = -(parts[1] + parts[2])
            by_eta_sum += by_eta
            by_base[i] += weight[q] * by_eta
            by_cut[drains.high[i]] += weight[q] * parts[1]
            by_cut[drains.low[i] - 1] += weight[q] * parts[2]
        slope = drains.spread * by_eta_sum - z_at[q]
        by_spread += weight[q] * z_at[q] * by_eta_sum
        mean_slope += weight[q] * slope
        mean_slope_node += weight[q] * slope * rule.nodes[q]
    return by_spread, mean_slope, mean_slope_node


@njit(cache=True)
def fill_mode(drains: Drains, first: int, last: int, mode: float, at_mode: Floats) -> float:
    """Fill the bends of a unit's chances at its mode, (4, n or more); the sum of their slopes in the predictor."""
    by_eta = 0.0
    for i in range(first, last):
        parts = cell_at(drains, i, mode)
        aa, ab, bb = second_derivatives(parts)
        by_eta -= parts[1] + parts[2]
        at_mode[BEND_UP, i - first] = aa + ab
        at_mode[BEND_DOWN, i - first] = ab + bb
        at_mode[THIRD_UP, i - first], at_mode[THIRD_DOWN, i - first] = curvature_slopes(parts)
    return by_eta
