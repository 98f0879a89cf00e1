"""Observed information of the rating model by Louis' identity, compiled and parallel.

Hessian of the log marginal likelihood = E[complete-data Hessian] + Var[complete-data score], both over the posterior
of a unit's effect, summed over the quadrature's nodes (Louis 1982, J. R. Stat. Soc. B 44, 226-233). It is accurate
with about seven nodes or more; with fewer the exact gradient is differenced instead (see `likelihood`). Small logs
are fitted with it; for large ones `value_gradient_hessian` computes the same in the pass that gives the gradient.

Order of parameters: thresholds (K - 1), design columns (p), standard deviation between units (1).
"""

from __future__ import annotations

import numpy as np
from numba import njit, prange

from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import (
    Drains,
    Rule,
    UnitSlices,
    node_weights,
    terms_at,
    unit_mode,
)
from draincurve.pipeline.fitting.quadrature.rating_probability import second_derivatives
from draincurve.pipeline.fitting.thread_limits import compiled_loop
from draincurve.schemas.array_types import Floats


@compiled_loop
def louis_hessian(drains: Drains, design: Floats, slices: UnitSlices, modes: Floats, rule: Rule) -> Floats:
    """Hessian of the log likelihood, shape (K - 1 + p + 1,) squared; design float64 (n, p)."""
    n_blocks = slices.blocks.size - 1
    size = drains.bounds.size - 2 + design.shape[1] + 1
    by_block = np.zeros((n_blocks, size, size))
    for block in prange(n_blocks):
        z_at = np.empty(rule.nodes.size)
        weight = np.empty(rule.nodes.size)
        score = np.empty((rule.nodes.size, size))
        for u in range(slices.blocks[block], slices.blocks[block + 1]):
            first, last = slices.starts[u], slices.starts[u + 1]
            mode, curvature = unit_mode(drains, first, last, modes[u])
            node_weights(drains, first, last, mode, curvature, rule, z_at, weight)
            _fill_scores(drains, design, first, last, z_at, score)
            add_variance(score, weight, by_block[block])
            for i in range(first, last):
                _add_expected_curvature(drains, i, design[i], z_at, weight, by_block[block])
    full = np.zeros((size, size))
    for block in range(n_blocks):  # a plain loop, so that the sum does not depend on the number of threads
        for j in range(size):
            for k in range(j + 1):
                full[j, k] += by_block[block, j, k]
    for j in range(size):
        for k in range(j):
            full[k, j] = full[j, k]
    return full


@njit(cache=True)
def _fill_scores(drains: Drains, design: Floats, first: int, last: int, z_at: Floats, score: Floats) -> None:
    """Fill the complete-data score of one unit at every node, shape (nodes, parameters)."""
    n_thresholds = drains.bounds.size - 2
    n_columns = design.shape[1]
    for q in range(z_at.size):
        score[q, :] = 0.0
        for i in range(first, last):
            terms = terms_at(drains, i, z_at[q])
            if drains.high[i] <= n_thresholds:
                score[q, drains.high[i] - 1] += terms[1]
            if drains.low[i] > 1:
                score[q, drains.low[i] - 2] += terms[2]
            by_eta = -(terms[1] + terms[2])
            for j in range(n_columns):
                score[q, n_thresholds + j] += by_eta * design[i, j]
            score[q, n_thresholds + n_columns] += by_eta * z_at[q]


@njit(cache=True)
def add_variance(score: Floats, weight: Floats, total: Floats) -> None:
    """Add the variance of the score over the nodes to the lower triangle of `total`."""
    size = score.shape[1]
    mean = np.zeros(size)
    for q in range(weight.size):
        for j in range(size):
            mean[j] += weight[q] * score[q, j]
    for q in range(weight.size):
        for j in range(size):
            centred = weight[q] * (score[q, j] - mean[j])
            for k in range(j + 1):
                total[j, k] += centred * (score[q, k] - mean[k])


@njit(cache=True)
def _add_expected_curvature(drains: Drains, i: int, row: Floats, z_at: Floats, weight: Floats, total: Floats) -> None:
    """Add one drain's expected complete-data Hessian to the lower triangle of `total`."""
    n_thresholds = drains.bounds.size - 2
    n_columns = row.size
    last = n_thresholds + n_columns
    upper, lower = drains.high[i] - 1, drains.low[i] - 2
    has_upper, has_lower = upper < n_thresholds, lower >= 0
    eta_eta = 0.0
    eta_z = 0.0
    for q in range(z_at.size):
        z = z_at[q]
        aa, ab, bb = second_derivatives(terms_at(drains, i, z))
        aa, ab, bb = weight[q] * aa, weight[q] * ab, weight[q] * bb
        curve = aa + 2.0 * ab + bb
        eta_eta += curve
        eta_z += curve * z
        total[last, last] += curve * z * z
        if has_upper:
            total[upper, upper] += aa
            total[last, upper] -= (aa + ab) * z
            for j in range(n_columns):
                total[n_thresholds + j, upper] -= (aa + ab) * row[j]
        if has_lower:
            total[lower, lower] += bb
            total[last, lower] -= (ab + bb) * z
            for j in range(n_columns):
                total[n_thresholds + j, lower] -= (ab + bb) * row[j]
        if has_upper and has_lower:
            total[upper, lower] += ab
    for j in range(n_columns):
        for k in range(j + 1):
            total[n_thresholds + j, n_thresholds + k] += eta_eta * row[j] * row[k]
        total[last, n_thresholds + j] += eta_z * row[j]
