"""Sums of one pass over many units: gradient and Louis' information, by products of matrices, compiled.

Score and curvature of a unit are sums of outer products. Units are gathered until their rows make a piece that fits
in the processor's cache, and a piece is one matrix product.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit

from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import Drains, Rule
from draincurve.pipeline.fitting.quadrature.node_values import UnitNodes
from draincurve.schemas.array_types import Floats

_UNITS = 32
_ROWS = 512
_PRODUCT = 250_000  # multiply-adds of a product that is left on one thread; blocks have the others

UP, DOWN, MIXED, UP_Z, DOWN_Z, CURVE_ZZ = 0, 1, 2, 3, 4, 5
"""Rows of expectations over a unit's nodes: bends by the upper and the lower cut, the mixed second derivative, both
bends times z, and the curvature in the predictor times z^2."""


class Sums(NamedTuple):
    """What a block of units adds up to, and the rows of those units not yet added.

    scores : centred scores at a unit's nodes times the root of the weight, (units x Q, P); curvatures : (drains,
    p + K + 1), of each drain its columns times its curvature, then by thresholds, by spread and the gradient in its
    linear predictor; by_level (Q, K + 1), by_column (Q, p), mean (P,), over_nodes (6, n) : of the unit at hand;
    product (p + K + 1, p) : curvatures times columns; hessian (P, P), its lower triangle without that product;
    gradient (P,) and by_cut (K + 1,), without it too.
    """

    scores: Floats
    curvatures: Floats
    by_level: Floats
    by_column: Floats
    mean: Floats
    over_nodes: Floats
    product: Floats
    hessian: Floats
    gradient: Floats
    by_cut: Floats


@njit(cache=True)
def _rows(columns: int, cuts: int) -> int:
    """Drains of a piece: few where the design is wide."""
    return max(1, min(_ROWS, _PRODUCT // (columns * (columns + cuts))))


@njit(cache=True)
def new_sums(longest: int, nodes: int, cuts: int, columns: int) -> Sums:
    """Sums of nothing; cuts : K + 1, the infinite ones among them."""
    size = cuts - 2 + columns + 1
    units = max(1, min(_UNITS, _PRODUCT // (nodes * size * size)))
    return Sums(
        np.empty((units * nodes, size)),
        np.empty((max(_rows(columns, cuts), longest), columns + cuts)),
        np.empty((nodes, cuts)),
        np.empty((nodes, columns)),
        np.empty(size),
        np.empty((6, longest)),
        np.zeros((columns + cuts, columns)),
        np.zeros((size, size)),
        np.zeros(size),
        np.zeros(cuts),
    )


@njit(cache=True)
def has_room(sums: Sums, units: int, drains: int) -> bool:
    """Whether one more unit finds room beside `units`, with which it would have so many drains."""
    room = sums.scores.shape[0] // sums.by_level.shape[0]
    return units == 0 or (units < room and drains <= _rows(sums.product.shape[1], sums.by_cut.size))


@njit(cache=True)
def add_scores(
    sums: Sums, place: int, drains: Drains, design: Floats, first: int, last: int, rule: Rule, unit: UnitNodes
) -> tuple[float, float]:
    """Add a unit's expected score and set its rows; means of the density's slope in z, and of slope x node."""
    nodes = rule.nodes.size
    n_cuts = drains.cuts.size - 2
    end = n_cuts + design.shape[1]
    levels = sums.by_level
    levels[:] = 0.0
    for i in range(first, last):
        upper, lower = drains.high[i], drains.low[i] - 1
        for q in range(nodes):
            levels[q, upper] += unit.ga[q, i - first]
            levels[q, lower] += unit.gb[q, i - first]
    np.dot(unit.by_eta, design[first:last], sums.by_column)
    sums.mean[:] = 0.0
    mean_slope = 0.0
    mean_slope_node = 0.0
    for q in range(nodes):
        row = sums.scores[place * nodes + q]
        w = unit.weights[q]
        by_eta = 0.0
        for k in range(n_cuts):
            row[k] = levels[q, k + 1]
            by_eta -= row[k]
        row[n_cuts:end] = sums.by_column[q]
        row[end] = by_eta * unit.places[q]
        slope = drains.spread * by_eta - unit.places[q]
        mean_slope += w * slope
        mean_slope_node += w * slope * rule.nodes[q]
        for j in range(row.size):
            sums.mean[j] += w * row[j]
    for q in range(nodes):
        row = sums.scores[place * nodes + q]
        root = math.sqrt(unit.weights[q])
        for j in range(row.size):
            row[j] = root * (row[j] - sums.mean[j])
    for j in range(sums.mean.size):
        sums.gradient[j] += sums.mean[j]
    return mean_slope, mean_slope_node


@njit(cache=True)
def add_curvatures(
    sums: Sums, begin: int, drains: Drains, design: Floats, first: int, last: int, unit: UnitNodes
) -> None:
    """Add a unit's expected complete-data Hessian by thresholds and spread, and set its rows."""
    n_cuts = drains.cuts.size - 2
    n_columns = design.shape[1]
    end = n_cuts + n_columns
    total = sums.hessian
    over = sums.over_nodes
    _fill_over_nodes(unit, last - first, over)
    for i in range(first, last):
        own = i - first
        upper, lower = drains.high[i] - 1, drains.low[i] - 2
        row = sums.curvatures[i - begin]
        curve = over[UP, own] + over[DOWN, own]
        for j in range(n_columns):
            row[j] = curve * design[i, j]
        row[n_columns:] = 0.0
        row[n_columns + n_cuts] = over[UP_Z, own] + over[DOWN_Z, own]
        total[end, end] += over[CURVE_ZZ, own]
        if upper < n_cuts:
            row[n_columns + upper] -= over[UP, own]
            total[upper, upper] += over[UP, own] - over[MIXED, own]
            total[end, upper] -= over[UP_Z, own]
        if lower >= 0:
            row[n_columns + lower] -= over[DOWN, own]
            total[lower, lower] += over[DOWN, own] - over[MIXED, own]
            total[end, lower] -= over[DOWN_Z, own]
            if upper < n_cuts:
                total[max(upper, lower), min(upper, lower)] += over[MIXED, own]


@njit(cache=True)
def _fill_over_nodes(unit: UnitNodes, count: int, over: Floats) -> None:
    """Fill the expectations of a unit's second derivatives, (6, n or more).

    One loop for every two rows, as in `logit_factors.fill_nodes`.
    """
    over[:, :count] = 0.0
    for q in range(unit.weights.size):
        w, z = unit.weights[q], unit.places[q]
        bend_up, bend_down, ga, gb = unit.bend_up[q], unit.bend_down[q], unit.ga[q], unit.gb[q]
        for i in range(count):
            over[UP, i] += w * bend_up[i]
            over[UP_Z, i] += w * z * bend_up[i]
        for i in range(count):
            over[DOWN, i] += w * bend_down[i]
            over[DOWN_Z, i] += w * z * bend_down[i]
        for i in range(count):
            over[CURVE_ZZ, i] += w * z * z * (bend_up[i] + bend_down[i])
        for i in range(count):
            over[MIXED, i] -= w * ga[i] * gb[i]


@njit(cache=True)
def add_products(sums: Sums, design: Floats, begin: int, end: int, units: int) -> None:
    """Add the products of the rows of drains `begin` to `end`, which belong to so many units."""
    length = _rows(sums.product.shape[1], sums.by_cut.size)
    for a in range(begin, end, length):
        b = min(a + length, end)
        sums.product[:] += np.dot(sums.curvatures[a - begin : b - begin].T, design[a:b])
    rows = sums.scores[: units * sums.by_level.shape[0]]
    sums.hessian[:] += np.dot(rows.T, rows)


@njit(cache=True)
def spread_out(sums: Sums, gradient: Floats, hessian: Floats) -> None:
    """Put a block's sums in their places; of the Hessian the lower triangle."""
    n_columns = sums.product.shape[1]
    n_cuts = sums.by_cut.size - 2
    end = n_cuts + n_columns
    gradient += sums.gradient
    hessian += sums.hessian
    for k in range(n_cuts):
        gradient[k] += sums.by_cut[k + 1]
    for j in range(n_columns):
        gradient[n_cuts + j] += sums.product[n_columns + n_cuts + 1, j]
        hessian[end, n_cuts + j] += sums.product[n_columns + n_cuts, j]
        for k in range(n_cuts):
            hessian[n_cuts + j, k] += sums.product[n_columns + k, j]
        for k in range(j + 1):
            hessian[n_cuts + j, n_cuts + k] += sums.product[j, k]
