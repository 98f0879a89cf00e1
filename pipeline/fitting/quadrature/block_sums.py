"""Sums over a block of units in one pass: gradient and Louis' information, by matrix products, compiled.

Score variance and expected curvature of a unit are sums of outer products. The rows of several units are collected in
a batch that fits in the processor's cache, and a batch is one matrix product. Terms that are no product of rows are
added unit by unit.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit

from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import Drains, Rule
from draincurve.pipeline.fitting.quadrature.node_values import NodeValues
from draincurve.schemas.array_types import Floats

_BATCH_UNITS = 32
_BATCH_DRAINS = 512
_BATCH_MULTIPLY_ADDS = 250_000  # BLAS keeps a product of this size on one thread, as other blocks use the others

UPPER, LOWER, MIXED, UPPER_Z, LOWER_Z, CURVE_ZZ = 0, 1, 2, 3, 4, 5
"""Rows of expectations over a unit's nodes, see `NodeValues`: curvature_upper, curvature_lower, the second derivative
by both bounds, the first two times z, and the second derivative by the linear predictor times z^2."""


class BlockSums(NamedTuple):
    """Sums over a block's units so far, and the rows of the batch that is not added yet.

    scores : (units x Q, P), centred scores at the nodes times the square root of the weight; curvatures : (drains,
    p + K + 1), each drain's columns times its curvature, then its curvature by thresholds and by the unit sd, and its
    gradient by the linear predictor; bound_scores (Q, K + 1), column_scores (Q, p), mean (P,), over_nodes (6, n) : of
    the current unit; product : (p + K + 1, p), curvatures times columns; hessian : (P, P), lower triangle, without
    that product; gradient (P,), by_bound (K + 1,) : without that product
    """

    scores: Floats
    curvatures: Floats
    bound_scores: Floats
    column_scores: Floats
    mean: Floats
    over_nodes: Floats
    product: Floats
    hessian: Floats
    gradient: Floats
    by_bound: Floats


@njit(cache=True)
def _batch_drains(columns: int, bounds: int) -> int:
    """Drains of a batch: fewer where the design is wide."""
    return max(1, min(_BATCH_DRAINS, _BATCH_MULTIPLY_ADDS // (columns * (columns + bounds))))


@njit(cache=True)
def new_block_sums(longest: int, nodes: int, bounds: int, columns: int) -> BlockSums:
    """Sums of zero; bounds : K + 1, the infinite ones included."""
    size = bounds - 2 + columns + 1
    units = max(1, min(_BATCH_UNITS, _BATCH_MULTIPLY_ADDS // (nodes * size * size)))
    return BlockSums(
        np.empty((units * nodes, size)),
        np.empty((max(_batch_drains(columns, bounds), longest), columns + bounds)),
        np.empty((nodes, bounds)),
        np.empty((nodes, columns)),
        np.empty(size),
        np.empty((6, longest)),
        np.zeros((columns + bounds, columns)),
        np.zeros((size, size)),
        np.zeros(size),
        np.zeros(bounds),
    )


@njit(cache=True)
def has_room(sums: BlockSums, units: int, drains: int) -> bool:
    """Whether the batch, of `units` units so far, has room for one more unit, with which it has `drains` drains."""
    room = sums.scores.shape[0] // sums.bound_scores.shape[0]
    return units == 0 or (units < room and drains <= _batch_drains(sums.product.shape[1], sums.by_bound.size))


@njit(cache=True)
def add_scores(
    sums: BlockSums, slot: int, drains: Drains, design: Floats, first: int, last: int, rule: Rule, unit: NodeValues
) -> tuple[float, float]:
    """Add a unit's expected score and set its rows of the batch.

    slot : the unit's number in the batch. Returns the means over the nodes of the log joint density's derivative by
    z, and of derivative x node, for `add_node_gradient`.
    """
    nodes = rule.nodes.size
    n_thresholds = drains.bounds.size - 2
    end = n_thresholds + design.shape[1]
    bound_scores = sums.bound_scores
    bound_scores[:] = 0.0
    for i in range(first, last):
        upper, lower = drains.high[i], drains.low[i] - 1
        for q in range(nodes):
            bound_scores[q, upper] += unit.ga[q, i - first]
            bound_scores[q, lower] += unit.gb[q, i - first]
    np.dot(unit.by_eta, design[first:last], sums.column_scores)
    sums.mean[:] = 0.0
    mean_slope = 0.0
    mean_slope_node = 0.0
    for q in range(nodes):
        row = sums.scores[slot * nodes + q]
        w = unit.weights[q]
        by_eta = 0.0
        for k in range(n_thresholds):
            row[k] = bound_scores[q, k + 1]
            by_eta -= row[k]
        row[n_thresholds:end] = sums.column_scores[q]
        row[end] = by_eta * unit.z[q]
        slope = drains.unit_sd * by_eta - unit.z[q]
        mean_slope += w * slope
        mean_slope_node += w * slope * rule.nodes[q]
        for j in range(row.size):
            sums.mean[j] += w * row[j]
    for q in range(nodes):
        row = sums.scores[slot * nodes + q]
        root = math.sqrt(unit.weights[q])
        for j in range(row.size):
            row[j] = root * (row[j] - sums.mean[j])
    for j in range(sums.mean.size):
        sums.gradient[j] += sums.mean[j]
    return mean_slope, mean_slope_node


@njit(cache=True)
def add_curvatures(
    sums: BlockSums, begin: int, drains: Drains, design: Floats, first: int, last: int, unit: NodeValues
) -> None:
    """Add a unit's expected complete-data Hessian by thresholds and unit sd, and set its rows of the batch.

    begin : first drain of the batch
    """
    n_thresholds = drains.bounds.size - 2
    n_columns = design.shape[1]
    end = n_thresholds + n_columns
    total = sums.hessian
    over = sums.over_nodes
    _fill_over_nodes(unit, last - first, over)
    for i in range(first, last):
        drain = i - first
        upper, lower = drains.high[i] - 1, drains.low[i] - 2
        row = sums.curvatures[i - begin]
        curve = over[UPPER, drain] + over[LOWER, drain]
        for j in range(n_columns):
            row[j] = curve * design[i, j]
        row[n_columns:] = 0.0
        row[n_columns + n_thresholds] = over[UPPER_Z, drain] + over[LOWER_Z, drain]
        total[end, end] += over[CURVE_ZZ, drain]
        if upper < n_thresholds:
            row[n_columns + upper] -= over[UPPER, drain]
            total[upper, upper] += over[UPPER, drain] - over[MIXED, drain]
            total[end, upper] -= over[UPPER_Z, drain]
        if lower >= 0:
            row[n_columns + lower] -= over[LOWER, drain]
            total[lower, lower] += over[LOWER, drain] - over[MIXED, drain]
            total[end, lower] -= over[LOWER_Z, drain]
            if upper < n_thresholds:
                total[max(upper, lower), min(upper, lower)] += over[MIXED, drain]


@njit(cache=True)
def _fill_over_nodes(unit: NodeValues, count: int, over: Floats) -> None:
    """Fill the expectations of a unit's second derivatives, (6, n or more).

    No loop writes more than two rows, as in `logit_factors.fill_logit_terms`.
    """
    over[:, :count] = 0.0
    for q in range(unit.weights.size):
        w, z = unit.weights[q], unit.z[q]
        curvature_upper, curvature_lower = unit.curvature_upper[q], unit.curvature_lower[q]
        ga, gb = unit.ga[q], unit.gb[q]
        for i in range(count):
            over[UPPER, i] += w * curvature_upper[i]
            over[UPPER_Z, i] += w * z * curvature_upper[i]
        for i in range(count):
            over[LOWER, i] += w * curvature_lower[i]
            over[LOWER_Z, i] += w * z * curvature_lower[i]
        for i in range(count):
            over[CURVE_ZZ, i] += w * z * z * (curvature_upper[i] + curvature_lower[i])
        for i in range(count):
            over[MIXED, i] -= w * ga[i] * gb[i]


@njit(cache=True)
def add_products(sums: BlockSums, design: Floats, begin: int, end: int, units: int) -> None:
    """Add the products of a batch: the rows of drains `begin` to `end`, which belong to `units` units."""
    length = _batch_drains(sums.product.shape[1], sums.by_bound.size)
    for a in range(begin, end, length):
        b = min(a + length, end)
        sums.product[:] += np.dot(sums.curvatures[a - begin : b - begin].T, design[a:b])
    rows = sums.scores[: units * sums.bound_scores.shape[0]]
    sums.hessian[:] += np.dot(rows.T, rows)


@njit(cache=True)
def add_to_totals(sums: BlockSums, gradient: Floats, hessian: Floats) -> None:
    """Add a block's sums to the gradient (P,) and to the lower triangle of the Hessian (P, P)."""
    n_columns = sums.product.shape[1]
    n_thresholds = sums.by_bound.size - 2
    end = n_thresholds + n_columns
    gradient += sums.gradient
    hessian += sums.hessian
    for k in range(n_thresholds):
        gradient[k] += sums.by_bound[k + 1]
    for j in range(n_columns):
        gradient[n_thresholds + j] += sums.product[n_columns + n_thresholds + 1, j]
        hessian[end, n_thresholds + j] += sums.product[n_columns + n_thresholds, j]
        for k in range(n_thresholds):
            hessian[n_thresholds + j, k] += sums.product[n_columns + k, j]
        for k in range(j + 1):
            hessian[n_thresholds + j, n_thresholds + k] += sums.product[j, k]
