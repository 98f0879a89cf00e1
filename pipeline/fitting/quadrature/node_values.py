"""One unit at its quadrature nodes: where they lie, what they weigh, what its chances are there; compiled."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit

from draincurve.pipeline.fitting.links import LOGIT
from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import (
    HALF_LOG_TWO_PI,
    Drains,
    Rule,
    cell_at,
    fill_mode,
    unit_mode,
)
from draincurve.pipeline.fitting.quadrature.logit_factors import fill_factors, fill_nodes, logit_mode, near_enough
from draincurve.pipeline.fitting.quadrature.logit_factors import fill_mode as fill_mode_by_factors
from draincurve.pipeline.fitting.quadrature.rating_probability import second_derivatives
from draincurve.schemas.array_types import Floats


class UnitNodes(NamedTuple):
    """What is kept of a unit of n drains.

    places, weights : of the Q nodes; ga, gb : derivatives of log P by the upper and the lower cut, (Q, n); bend_up,
    bend_down : sums of second derivatives that hold the upper cut and that hold the lower, (Q, n), the mixed one
    being -ga gb; by_eta : derivatives in the linear predictor, (Q, n); at_mode : (4, n or more), see `node_gradient`;
    factors : (3, n or more), see `logit_factors`.
    """

    places: Floats
    weights: Floats
    ga: Floats
    gb: Floats
    bend_up: Floats
    bend_down: Floats
    by_eta: Floats
    at_mode: Floats
    factors: Floats


class UnitMemory(NamedTuple):
    """Memory for the longest unit's nodes, used for one unit after another."""

    places: Floats
    weights: Floats
    by_chance: Floats
    at_mode: Floats
    factors: Floats


@njit(cache=True)
def memory_for(longest: int, nodes: int) -> UnitMemory:
    """Memory for units of `longest` drains or fewer."""
    return UnitMemory(
        np.empty(nodes),
        np.empty(nodes),
        np.empty((5, nodes * longest)),
        np.empty((4, longest)),
        np.empty((3, longest)),
    )


@njit(cache=True)
def nodes_of(memory: UnitMemory, count: int) -> UnitNodes:
    """A unit of `count` drains in that memory, nothing filled in yet."""
    nodes = memory.places.size
    length = nodes * count
    return UnitNodes(
        memory.places,
        memory.weights,
        memory.by_chance[0, :length].reshape(nodes, count),
        memory.by_chance[1, :length].reshape(nodes, count),
        memory.by_chance[2, :length].reshape(nodes, count),
        memory.by_chance[3, :length].reshape(nodes, count),
        memory.by_chance[4, :length].reshape(nodes, count),
        memory.at_mode,
        memory.factors,
    )


@njit(cache=True)
def weigh(
    drains: Drains, first: int, last: int, start: float, rule: Rule, by_cut: Floats, unit: UnitNodes
) -> tuple[float, float, float, float]:
    """Fill a unit's nodes; (mode, curvature, slope of its chances in the predictor at the mode, log likelihood).

    start : where the search for the mode begins; by_cut : as `logit_factors.cut_factors` gives them.
    """
    count = last - first
    gaps, reach = 0.0, math.inf
    mode, curvature, found = start, 1.0, False
    if drains.link == LOGIT:
        gaps, reach = fill_factors(drains, first, last, by_cut, unit.factors)
        mode, curvature, found = logit_mode(drains, count, unit.factors, reach, start)
    if not found:
        mode, curvature = unit_mode(drains, first, last, start)
    scale = math.sqrt(2.0 / curvature)
    farthest = 0.0
    for q in range(rule.nodes.size):
        unit.places[q] = mode + scale * rule.nodes[q]
        farthest = max(farthest, abs(unit.places[q]))
    if near_enough(drains, reach, farthest):
        by_eta = fill_mode_by_factors(drains, count, unit.factors, mode, unit.at_mode)
        fill_nodes(
            drains,
            unit.factors,
            unit.places,
            unit.ga,
            unit.gb,
            unit.bend_up,
            unit.bend_down,
            unit.by_eta,
            unit.weights,
        )
    else:
        gaps = 0.0
        by_eta = fill_mode(drains, first, last, mode, unit.at_mode)
        _fill_nodes(drains, first, unit)
    top = -math.inf
    for q in range(rule.nodes.size):
        unit.weights[q] += rule.log_weights[q] + gaps - 0.5 * unit.places[q] * unit.places[q]
        top = max(top, unit.weights[q])
    total = 0.0
    for q in range(rule.nodes.size):
        unit.weights[q] = math.exp(unit.weights[q] - top)
        total += unit.weights[q]
    for q in range(rule.nodes.size):
        unit.weights[q] /= total
    return mode, curvature, by_eta, top + math.log(total) + math.log(scale) - HALF_LOG_TWO_PI


@njit(cache=True)
def _fill_nodes(drains: Drains, first: int, unit: UnitNodes) -> None:
    """As `logit_factors.fill_nodes`, for any link and however far out; the logs are whole."""
    for q in range(unit.places.size):
        unit.weights[q] = 0.0
        for i in range(unit.ga.shape[1]):
            parts = cell_at(drains, first + i, unit.places[q])
            aa, ab, bb = second_derivatives(parts)
            unit.weights[q] += parts[0]
            unit.ga[q, i], unit.gb[q, i], unit.by_eta[q, i] = parts[1], parts[2], -(parts[1] + parts[2])
            unit.bend_up[q, i], unit.bend_down[q, i] = aa + ab, ab + bb
