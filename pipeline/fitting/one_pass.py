"""Value, exact gradient and Louis' information of the rating model in one pass over the drains, compiled.

The same sums as `quadrature.value_and_gradient` and `information.louis_hessian`, with every chance evaluated once: a
unit's chances and their derivatives at all nodes are kept until its nodes are weighed, in a piece of memory that is
one unit long and stays in the processor's cache. Large logs are fitted with it, where a pass is what costs.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit, prange

from pipeline.fitting.cells import second_derivatives
from pipeline.fitting.information import add_variance
from pipeline.fitting.links import LOGIT
from pipeline.fitting.logit_chances import (
    AA,
    BB,
    GA,
    GB,
    cut_factors,
    fill_factors,
    fill_node,
    logit_mode,
    near_enough,
)
from pipeline.fitting.quadrature import (
    HALF_LOG_TWO_PI,
    Drains,
    Floats,
    Groups,
    Rule,
    cell_at,
    moving_nodes,
    unit_mode,
)


@njit(cache=True, parallel=True)
def value_gradient_hessian(
    drains: Drains, design: Floats, groups: Groups, modes: Floats, rule: Rule
) -> tuple[float, Floats, Floats]:
    """(log likelihood, gradient (P,), Hessian (P, P)); P thresholds, columns, spread; updates `modes`."""
    n_blocks = groups.blocks.size - 1
    size = drains.cuts.size - 2 + design.shape[1] + 1
    longest = 0
    for u in range(modes.size):
        longest = max(longest, groups.starts[u + 1] - groups.starts[u])
    value = np.zeros(n_blocks)
    gradient = np.zeros((n_blocks, size))
    hessian = np.zeros((n_blocks, size, size))
    by_cut_factors = cut_factors(drains.cuts)
    for block in prange(n_blocks):
        factors = np.empty((longest, 3))
        kept = np.empty((rule.nodes.size, longest, 4))
        z_at = np.empty(rule.nodes.size)
        weight = np.empty(rule.nodes.size)
        score = np.empty((rule.nodes.size, size))
        by_base = np.empty(longest)
        by_cut = np.empty(drains.cuts.size)
        for u in range(groups.blocks[block], groups.blocks[block + 1]):
            first, last = groups.starts[u], groups.starts[u + 1]
            mode, curvature, part = _weigh(
                drains, first, last, modes[u], rule, by_cut_factors, factors, z_at, weight, kept
            )
            modes[u] = mode
            value[block] += part
            slope, slope_node = _scores(drains, design, first, last, rule, z_at, weight, kept, score)
            _add_gradient(weight, score, gradient[block])
            by_base[:] = 0.0
            by_cut[:] = 0.0
            own = _slice(drains, first, last)
            gradient[block, size - 1] += moving_nodes(
                own, 0, last - first, mode, curvature, slope, slope_node, by_base, by_cut
            )
            _add_moved(design, first, last, by_base, by_cut, gradient[block])
            add_variance(score, weight, hessian[block])
            _add_curvature(drains, design, first, last, z_at, weight, kept, hessian[block])
    return _summed(value, gradient, hessian)


@njit(cache=True)
def _slice(drains: Drains, first: int, last: int) -> Drains:
    """One unit's drains."""
    return Drains(
        drains.link,
        drains.low[first:last],
        drains.high[first:last],
        drains.cuts,
        drains.base[first:last],
        drains.spread,
    )


@njit(cache=True)
def _weigh(
    drains: Drains,
    first: int,
    last: int,
    start: float,
    rule: Rule,
    by_cut_factors: Floats,
    factors: Floats,
    z_at: Floats,
    weight: Floats,
    kept: Floats,
) -> tuple[float, float, float]:
    """Fill the nodes' places and weights and what is kept of each chance; (mode, curvature, log likelihood)."""
    count = last - first
    gaps, reach = 0.0, math.inf
    mode, curvature, found = start, 1.0, False
    if drains.link == LOGIT:
        gaps, reach = fill_factors(drains, first, last, by_cut_factors, factors)
        mode, curvature, found = logit_mode(drains, count, factors, reach, start)
    if not found:
        mode, curvature = unit_mode(drains, first, last, start)
    scale = math.sqrt(2.0 / curvature)
    top = -math.inf
    for q in range(rule.nodes.size):
        z = mode + scale * rule.nodes[q]
        z_at[q] = z
        if near_enough(drains, reach, z):
            chance = gaps + fill_node(drains, count, factors, z, kept[q])
        else:
            chance = _fill_node(drains, first, last, z, kept[q])
        weight[q] = rule.log_weights[q] + chance - 0.5 * z * z
        top = max(top, weight[q])
    total = 0.0
    for q in range(rule.nodes.size):
        weight[q] = math.exp(weight[q] - top)
        total += weight[q]
    for q in range(rule.nodes.size):
        weight[q] /= total
    return mode, curvature, top + math.log(total) + math.log(scale) - HALF_LOG_TWO_PI


@njit(cache=True)
def _fill_node(drains: Drains, first: int, last: int, z: float, kept: Floats) -> float:
    """As `logit_chances.fill_node`, for any link and however far out; all of the log."""
    total = 0.0
    for i in range(first, last):
        parts = cell_at(drains, i, z)
        aa, _, bb = second_derivatives(parts)
        total += parts[0]
        at = kept[i - first]
        at[GA], at[GB], at[AA], at[BB] = parts[1], parts[2], aa, bb
    return total


@njit(cache=True)
def _scores(
    drains: Drains,
    design: Floats,
    first: int,
    last: int,
    rule: Rule,
    z_at: Floats,
    weight: Floats,
    kept: Floats,
    score: Floats,
) -> tuple[float, float]:
    """Fill the complete-data scores at the nodes (Q, P); means of the density's slope in z, and of slope x node."""
    n_cuts = drains.cuts.size - 2
    n_columns = design.shape[1]
    mean_slope = 0.0
    mean_slope_node = 0.0
    for q in range(z_at.size):
        row = score[q]
        row[:] = 0.0
        for i in range(first, last):
            ga, gb = kept[q, i - first, GA], kept[q, i - first, GB]
            if drains.high[i] <= n_cuts:
                row[drains.high[i] - 1] += ga
            if drains.low[i] > 1:
                row[drains.low[i] - 2] += gb
            by_eta = -(ga + gb)
            for j in range(n_columns):
                row[n_cuts + j] += by_eta * design[i, j]
            row[n_cuts + n_columns] += by_eta
        by_eta_sum = row[n_cuts + n_columns]
        slope = drains.spread * by_eta_sum - z_at[q]
        row[n_cuts + n_columns] = by_eta_sum * z_at[q]
        mean_slope += weight[q] * slope
        mean_slope_node += weight[q] * slope * rule.nodes[q]
    return mean_slope, mean_slope_node


@njit(cache=True)
def _add_gradient(weight: Floats, score: Floats, gradient: Floats) -> None:
    """Fisher's identity: the expected score."""
    for q in range(weight.size):
        for j in range(score.shape[1]):
            gradient[j] += weight[q] * score[q, j]


@njit(cache=True)
def _add_moved(design: Floats, first: int, last: int, by_base: Floats, by_cut: Floats, gradient: Floats) -> None:
    """Add what the moving of the nodes gives, by threshold and by column."""
    n_cuts = by_cut.size - 2
    for k in range(n_cuts):
        gradient[k] += by_cut[k + 1]
    for i in range(first, last):
        for j in range(design.shape[1]):
            gradient[n_cuts + j] += by_base[i - first] * design[i, j]


@njit(cache=True)
def _add_curvature(
    drains: Drains,
    design: Floats,
    first: int,
    last: int,
    z_at: Floats,
    weight: Floats,
    kept: Floats,
    total: Floats,
) -> None:
    """Add a unit's expected complete-data Hessian to the lower triangle of `total`."""
    n_cuts = drains.cuts.size - 2
    n_columns = design.shape[1]
    end = n_cuts + n_columns
    for i in range(first, last):
        upper, lower = drains.high[i] - 1, drains.low[i] - 2
        sum_aa, sum_ab, sum_bb, upper_z, lower_z, eta_z, eta_zz = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
        for q in range(z_at.size):
            at = kept[q, i - first]
            w, z = weight[q], z_at[q]
            aa, ab, bb = w * at[AA], -w * at[GA] * at[GB], w * at[BB]
            sum_aa += aa
            sum_ab += ab
            sum_bb += bb
            upper_z += (aa + ab) * z
            lower_z += (ab + bb) * z
            eta_zz += (aa + 2.0 * ab + bb) * z * z
        eta_z = upper_z + lower_z
        by_upper, by_lower = sum_aa + sum_ab, sum_ab + sum_bb
        eta_eta = by_upper + by_lower
        total[end, end] += eta_zz
        if upper < n_cuts:
            total[upper, upper] += sum_aa
            total[end, upper] -= upper_z
        if lower >= 0:
            total[lower, lower] += sum_bb
            total[end, lower] -= lower_z
            if upper < n_cuts:
                total[max(upper, lower), min(upper, lower)] += sum_ab
        for j in range(n_columns):
            x = design[i, j]
            row = total[n_cuts + j]
            if upper < n_cuts:
                row[upper] -= by_upper * x
            if lower >= 0:
                row[lower] -= by_lower * x
            scaled = eta_eta * x
            for k in range(j + 1):
                row[n_cuts + k] += scaled * design[i, k]
            total[end, n_cuts + j] += eta_z * x


@njit(cache=True)
def _summed(value: Floats, gradient: Floats, hessian: Floats) -> tuple[float, Floats, Floats]:
    """Sums over blocks in a fixed order, and the upper triangle beside the lower."""
    size = gradient.shape[1]
    whole = 0.0
    by = np.zeros(size)
    full = np.zeros((size, size))
    for block in range(value.size):
        whole += value[block]
        for j in range(size):
            by[j] += gradient[block, j]
            for k in range(j + 1):
                full[j, k] += hessian[block, j, k]
    for j in range(size):
        for k in range(j):
            full[k, j] = full[j, k]
    return whole, by, full
