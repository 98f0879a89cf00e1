"""Marginal likelihood of the rating model by adaptive Gauss-Hermite quadrature, compiled and parallel.

Per unit: Newton to the mode of the log joint density in the unit's effect z, nodes scaled by the curvature there
(Liu & Pierce 1994, Biometrika 81, 624-629; one node is the Laplace approximation). Drains are sorted by unit, a unit
is a slice, and units are worked off in a fixed number of blocks, so that sums do not depend on the thread count.

The gradient is exact for the quadrature sum itself: Fisher's identity over the nodes plus the terms by which the
nodes move with the parameters, so it holds at one node as at twenty-five. The Hessian is Louis' identity (1982).

Array arguments everywhere: low, high int64 (n,), ratings of each drain from 1 to K, low = high unless a range was
typed; cuts float64 (K + 1,), from -inf over the thresholds to +inf; base float64 (n,), the linear predictor without
the unit's effect; starts int64 (U + 1,), slice bounds of units; blocks int64 (B + 1,), unit bounds of the blocks.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from pipeline.fitting.cells import cell, curvature_slopes, log_cell, second_derivatives

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

_NEWTON_STEPS = 60
_LARGEST_STEP = 3.0


@njit(cache=True)
def unit_mode(
    link: int,
    low: Integers,
    high: Integers,
    cuts: Floats,
    base: Floats,
    spread: float,
    first: int,
    last: int,
    z: float,
) -> tuple[float, float]:
    """(mode, curvature): where a unit's log joint density peaks in z, and minus its second derivative there."""
    curvature = 1.0
    for _ in range(_NEWTON_STEPS):
        slope = -z
        curvature = 1.0
        for i in range(first, last):
            eta = base[i] + spread * z
            parts = cell(link, cuts[high[i]] - eta, cuts[low[i] - 1] - eta)
            aa, ab, bb = second_derivatives(parts)
            slope -= spread * (parts[1] + parts[2])
            curvature -= spread * spread * (aa + 2.0 * ab + bb)
        curvature = max(curvature, 1.0)
        step = min(max(slope / curvature, -_LARGEST_STEP), _LARGEST_STEP)
        z += step
        if abs(step) < 1e-9:
            break
    return z, curvature


@njit(cache=True)
def log_joint(
    link: int,
    low: Integers,
    high: Integers,
    cuts: Floats,
    base: Floats,
    spread: float,
    first: int,
    last: int,
    z: float,
) -> float:
    """Log density of a unit's ratings and its effect z (without the constant of the normal density)."""
    total = -0.5 * z * z
    for i in range(first, last):
        eta = base[i] + spread * z
        total += log_cell(link, cuts[high[i]] - eta, cuts[low[i] - 1] - eta)
    return total


@njit(cache=True)
def unit_log_likelihood(
    link: int,
    low: Integers,
    high: Integers,
    cuts: Floats,
    base: Floats,
    spread: float,
    first: int,
    last: int,
    start: float,
    nodes: Floats,
    log_weights: Floats,
) -> float:
    """Log marginal likelihood of one unit; nodes x_q and log weights log(w_q) + x_q^2 of Gauss-Hermite."""
    z, curvature = unit_mode(link, low, high, cuts, base, spread, first, last, start)
    scale = math.sqrt(2.0 / curvature)
    top = -math.inf
    total = 0.0
    for q in range(nodes.size):
        value = log_weights[q] + log_joint(link, low, high, cuts, base, spread, first, last, z + scale * nodes[q])
        if value > top:
            total = total * math.exp(top - value) + 1.0
            top = value
        else:
            total += math.exp(value - top)
    return top + math.log(total) + math.log(scale) - 0.9189385332046727


@njit(cache=True, parallel=True)
def log_likelihoods(
    link: int,
    low: Integers,
    high: Integers,
    cuts: Floats,
    base: Floats,
    spreads: Floats,
    starts: Integers,
    modes: Floats,
    nodes: Floats,
    log_weights: Floats,
) -> Floats:
    """Log likelihood of many parameter draws: cuts (S, K + 1), base (S, n), spreads (S,); returns (S,)."""
    draws = spreads.size
    result = np.zeros(draws)
    for s in prange(draws):
        total = 0.0
        for u in range(starts.size - 1):
            total += unit_log_likelihood(
                link,
                low,
                high,
                cuts[s],
                base[s],
                spreads[s],
                starts[u],
                starts[u + 1],
                modes[u],
                nodes,
                log_weights,
            )
        result[s] = total
    return result


@njit(cache=True, parallel=True)
def value_and_gradient(
    link: int,
    low: Integers,
    high: Integers,
    cuts: Floats,
    base: Floats,
    spread: float,
    starts: Integers,
    blocks: Integers,
    modes: Floats,
    nodes: Floats,
    log_weights: Floats,
    by_base: Floats,
) -> tuple[float, Floats, float]:
    """(log likelihood, gradient by thresholds (K - 1,), gradient by spread); fills `by_base` (n,) and `modes` (U,).

    `modes` holds the starting points on entry and the modes on return, so that the next call starts near.
    """
    n_blocks = blocks.size - 1
    n_cuts = cuts.size
    value = np.zeros(n_blocks)
    by_cut = np.zeros((n_blocks, n_cuts))
    by_spread = np.zeros(n_blocks)
    for block in prange(n_blocks):
        z_at = np.empty(nodes.size)
        weight = np.empty(nodes.size)
        for u in range(blocks[block], blocks[block + 1]):
            first, last = starts[u], starts[u + 1]
            mode, curvature = unit_mode(link, low, high, cuts, base, spread, first, last, modes[u])
            modes[u] = mode
            value[block] += node_weights(
                link,
                low,
                high,
                cuts,
                base,
                spread,
                first,
                last,
                mode,
                curvature,
                nodes,
                log_weights,
                z_at,
                weight,
            )
            mean_slope = 0.0
            mean_slope_node = 0.0
            for q in range(nodes.size):
                z = z_at[q]
                slope = 0.0
                for i in range(first, last):
                    eta = base[i] + spread * z
                    parts = cell(link, cuts[high[i]] - eta, cuts[low[i] - 1] - eta)
                    by_eta = -(parts[1] + parts[2])
                    slope += by_eta
                    by_base[i] = by_eta * weight[q] + (by_base[i] if q > 0 else 0.0)
                    by_cut[block, high[i]] += weight[q] * parts[1]
                    by_cut[block, low[i] - 1] += weight[q] * parts[2]
                by_spread[block] += weight[q] * z * slope
                mean_slope += weight[q] * (spread * slope - z)
                mean_slope_node += weight[q] * (spread * slope - z) * nodes[q]
            by_spread[block] += _moving_nodes(
                link,
                low,
                high,
                cuts,
                base,
                spread,
                first,
                last,
                mode,
                curvature,
                mean_slope,
                mean_slope_node,
                by_base,
                by_cut[block],
            )
    total_cut = np.zeros(n_cuts - 2)
    for block in range(n_blocks):
        total_cut += by_cut[block, 1 : n_cuts - 1]
    return value.sum(), total_cut, by_spread.sum()


@njit(cache=True)
def node_weights(
    link: int,
    low: Integers,
    high: Integers,
    cuts: Floats,
    base: Floats,
    spread: float,
    first: int,
    last: int,
    mode: float,
    curvature: float,
    nodes: Floats,
    log_weights: Floats,
    z_at: Floats,
    weight: Floats,
) -> float:
    """Fill the nodes' places and posterior weights of one unit; returns its log marginal likelihood."""
    scale = math.sqrt(2.0 / curvature)
    top = -math.inf
    for q in range(nodes.size):
        z_at[q] = mode + scale * nodes[q]
        weight[q] = log_weights[q] + log_joint(link, low, high, cuts, base, spread, first, last, z_at[q])
        top = max(top, weight[q])
    total = 0.0
    for q in range(nodes.size):
        weight[q] = math.exp(weight[q] - top)
        total += weight[q]
    for q in range(nodes.size):
        weight[q] /= total
    return top + math.log(total) + math.log(scale) - 0.9189385332046727


@njit(cache=True)
def _moving_nodes(
    link: int,
    low: Integers,
    high: Integers,
    cuts: Floats,
    base: Floats,
    spread: float,
    first: int,
    last: int,
    mode: float,
    curvature: float,
    mean_slope: float,
    mean_slope_node: float,
    by_base: Floats,
    by_cut: Floats,
) -> float:
    """Add what the moving of mode and scale with the parameters gives to the gradient; returns the spread's part.

    With m the mode, s = curvature^(-1/2), z_q = m + sqrt(2) s x_q and g the log joint density:
    d log L / dp = E[g_p] + E[g_z] dm/dp + (1/s + sqrt(2) E[g_z x]) ds/dp, dm/dp = s^2 g_zp,
    ds/dp = s^3/2 (g_zzp + g_zzz dm/dp).
    """
    s = 1.0 / math.sqrt(curvature)
    sum_eta = 0.0
    sum_curve = 0.0
    sum_third = 0.0
    for i in range(first, last):
        eta = base[i] + spread * mode
        parts = cell(link, cuts[high[i]] - eta, cuts[low[i] - 1] - eta)
        aa, ab, bb = second_derivatives(parts)
        third_a, third_b = curvature_slopes(parts)
        sum_eta -= parts[1] + parts[2]
        sum_curve += aa + 2.0 * ab + bb
        sum_third -= third_a + third_b
    by_scale = 0.5 * s**3 * (1.0 / s + math.sqrt(2.0) * mean_slope_node)
    by_mode = s * s * (mean_slope + by_scale * spread**3 * sum_third)
    for i in range(first, last):
        eta = base[i] + spread * mode
        parts = cell(link, cuts[high[i]] - eta, cuts[low[i] - 1] - eta)
        aa, ab, bb = second_derivatives(parts)
        third_a, third_b = curvature_slopes(parts)
        by_base[i] += by_mode * spread * (aa + 2.0 * ab + bb) - by_scale * spread**2 * (third_a + third_b)
        by_cut[high[i]] += -by_mode * spread * (aa + ab) + by_scale * spread**2 * third_a
        by_cut[low[i] - 1] += -by_mode * spread * (ab + bb) + by_scale * spread**2 * third_b
    return by_mode * (sum_eta + spread * mode * sum_curve) + by_scale * (
        2.0 * spread * sum_curve + spread**2 * mode * sum_third
    )
