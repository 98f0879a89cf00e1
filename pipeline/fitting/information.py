"""Observed information of the rating model by Louis' identity, compiled and parallel.

Hessian of the log marginal likelihood = E[complete-data Hessian] + Var[complete-data score], both over a unit's
posterior, taken at the quadrature's nodes (Louis 1982, J. R. Stat. Soc. B 44, 226-233). Good from about seven nodes
on; with fewer the exact gradient is differenced instead (see likelihood.py).

Order of parameters: thresholds (K - 1), design columns (p), spread between units (1).
"""

from __future__ import annotations

import numpy as np
from numba import njit, prange

from pipeline.fitting.cells import cell, second_derivatives
from pipeline.fitting.quadrature import Floats, Integers, node_weights, unit_mode


@njit(cache=True, parallel=True)
def louis_hessian(
    link: int,
    low: Integers,
    high: Integers,
    cuts: Floats,
    base: Floats,
    design: Floats,
    spread: float,
    starts: Integers,
    blocks: Integers,
    modes: Floats,
    nodes: Floats,
    log_weights: Floats,
) -> Floats:
    """Hessian of the log likelihood, shape (K - 1 + p + 1,) squared; arguments as in quadrature.py."""
    n_blocks = blocks.size - 1
    n_cuts = cuts.size - 2
    n_columns = design.shape[1]
    size = n_cuts + n_columns + 1
    parts_of_sum = np.zeros((n_blocks, size, size))
    for block in prange(n_blocks):
        z_at = np.empty(nodes.size)
        weight = np.empty(nodes.size)
        score = np.empty((nodes.size, size))
        mean = np.empty(size)
        for u in range(blocks[block], blocks[block + 1]):
            first, last = starts[u], starts[u + 1]
            mode, curvature = unit_mode(link, low, high, cuts, base, spread, first, last, modes[u])
            node_weights(
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
            _unit_scores(link, low, high, cuts, base, design, spread, first, last, z_at, score)
            mean[:] = 0.0
            for q in range(nodes.size):
                for j in range(size):
                    mean[j] += weight[q] * score[q, j]
            for q in range(nodes.size):
                for j in range(size):
                    centred = weight[q] * (score[q, j] - mean[j])
                    for k in range(j + 1):
                        parts_of_sum[block, j, k] += centred * (score[q, k] - mean[k])
            for i in range(first, last):
                _add_row_curvature(
                    link, low[i], high[i], cuts, base[i], design[i], spread, z_at, weight, parts_of_sum[block]
                )
    result = np.zeros((size, size))
    for block in range(n_blocks):
        result += parts_of_sum[block]
    for j in range(size):
        for k in range(j):
            result[k, j] = result[j, k]
    return result


@njit(cache=True)
def _unit_scores(
    link: int,
    low: Integers,
    high: Integers,
    cuts: Floats,
    base: Floats,
    design: Floats,
    spread: float,
    first: int,
    last: int,
    z_at: Floats,
    score: Floats,
) -> None:
    """Fill the complete-data score of one unit at every node, shape (nodes, parameters)."""
    n_cuts = cuts.size - 2
    n_columns = design.shape[1]
    for q in range(z_at.size):
        score[q, :] = 0.0
        for i in range(first, last):
            eta = base[i] + spread * z_at[q]
            parts = cell(link, cuts[high[i]] - eta, cuts[low[i] - 1] - eta)
            if high[i] <= n_cuts:
                score[q, high[i] - 1] += parts[1]
            if low[i] > 1:
                score[q, low[i] - 2] += parts[2]
            by_eta = -(parts[1] + parts[2])
            for j in range(n_columns):
                score[q, n_cuts + j] += by_eta * design[i, j]
            score[q, n_cuts + n_columns] += by_eta * z_at[q]


@njit(cache=True)
def _add_row_curvature(
    link: int,
    low: int,
    high: int,
    cuts: Floats,
    base: float,
    row: Floats,
    spread: float,
    z_at: Floats,
    weight: Floats,
    total: Floats,
) -> None:
    """Add one drain's expected complete-data Hessian to the lower triangle of `total`."""
    n_cuts = cuts.size - 2
    n_columns = row.size
    last = n_cuts + n_columns
    upper, lower = high - 1, low - 2
    has_upper, has_lower = high <= n_cuts, low > 1
    eta_eta = 0.0
    eta_z = 0.0
    for q in range(z_at.size):
        z = z_at[q]
        eta = base + spread * z
        aa, ab, bb = second_derivatives(cell(link, cuts[high] - eta, cuts[low - 1] - eta))
        aa, ab, bb = weight[q] * aa, weight[q] * ab, weight[q] * bb
        curve = aa + 2.0 * ab + bb
        eta_eta += curve
        eta_z += curve * z
        total[last, last] += curve * z * z
        if has_upper:
            total[upper, upper] += aa
            total[last, upper] -= (aa + ab) * z
            for j in range(n_columns):
                total[n_cuts + j, upper] -= (aa + ab) * row[j]
        if has_lower:
            total[lower, lower] += bb
            total[last, lower] -= (ab + bb) * z
            for j in range(n_columns):
                total[n_cuts + j, lower] -= (ab + bb) * row[j]
        if has_upper and has_lower:
            total[upper, lower] += ab
    for j in range(n_columns):
        for k in range(j + 1):
            total[n_cuts + j, n_cuts + k] += eta_eta * row[j] * row[k]
        total[last, n_cuts + j] += eta_z * row[j]
