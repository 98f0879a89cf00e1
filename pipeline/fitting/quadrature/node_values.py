"""One unit at its quadrature nodes: locations, weights, and derivatives of its log probabilities there; compiled."""

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
    fill_mode_derivatives,
    terms_at,
    unit_mode,
)
from draincurve.pipeline.fitting.quadrature.logit_factors import (
    fill_factors,
    fill_logit_mode_derivatives,
    fill_logit_terms,
    logit_unit_mode,
    products_are_finite,
)
from draincurve.pipeline.fitting.quadrature.rating_probability import second_derivatives
from draincurve.schemas.array_types import Floats


class NodeValues(NamedTuple):
    """Values of a unit of n drains at Q nodes.

    z, weights : (Q,), locations and posterior weights of the nodes; ga, gb, by_eta : (Q, n), derivatives of log P by
    the upper bound, the lower bound and the linear predictor; curvature_upper, curvature_lower : (Q, n), minus the
    mixed second derivatives by the linear predictor and each bound (the one by both bounds is -ga gb);
    mode_derivatives : (4, n or more), see `node_gradient`; factors : (3, n or more), see `logit_factors`
    """

    z: Floats
    weights: Floats
    ga: Floats
    gb: Floats
    curvature_upper: Floats
    curvature_lower: Floats
    by_eta: Floats
    mode_derivatives: Floats
    factors: Floats


class Workspace(NamedTuple):
    """Memory for the values of the longest unit, reused for one unit after another."""

    z: Floats
    weights: Floats
    by_drain: Floats
    mode_derivatives: Floats
    factors: Floats


@njit(cache=True)
def new_workspace(longest: int, nodes: int) -> Workspace:
    """Memory for units of at most `longest` drains."""
    return Workspace(
        np.empty(nodes),
        np.empty(nodes),
        np.empty((5, nodes * longest)),
        np.empty((4, longest)),
        np.empty((3, longest)),
    )


@njit(cache=True)
def node_values(workspace: Workspace, count: int) -> NodeValues:
    """Values of a unit of `count` drains in that memory, not filled in yet."""
    nodes = workspace.z.size
    length = nodes * count
    return NodeValues(
        workspace.z,
        workspace.weights,
        workspace.by_drain[0, :length].reshape(nodes, count),
        workspace.by_drain[1, :length].reshape(nodes, count),
        workspace.by_drain[2, :length].reshape(nodes, count),
        workspace.by_drain[3, :length].reshape(nodes, count),
        workspace.by_drain[4, :length].reshape(nodes, count),
        workspace.mode_derivatives,
        workspace.factors,
    )


@njit(cache=True)
def evaluate_nodes(
    drains: Drains, first: int, last: int, start: float, rule: Rule, exp_bounds: Floats, unit: NodeValues
) -> tuple[float, float, float, float]:
    """Fill a unit's values; returns (mode, curvature, sum of by_eta at the mode, log marginal likelihood).

    start : of the search for the mode; exp_bounds : see `logit_factors.bound_exponentials`
    """
    count = last - first
    log_gaps, extent = 0.0, math.inf
    mode, curvature, converged = start, 1.0, False
    if drains.link == LOGIT:
        log_gaps, extent = fill_factors(drains, first, last, exp_bounds, unit.factors)
        mode, curvature, converged = logit_unit_mode(drains, count, unit.factors, extent, start)
    if not converged:
        mode, curvature = unit_mode(drains, first, last, start)
    scale = math.sqrt(2.0 / curvature)
    largest = 0.0
    for q in range(rule.nodes.size):
        unit.z[q] = mode + scale * rule.nodes[q]
        largest = max(largest, abs(unit.z[q]))
    if products_are_finite(drains, extent, largest):
        by_eta = fill_logit_mode_derivatives(drains, count, unit.factors, mode, unit.mode_derivatives)
        fill_logit_terms(
            drains,
            unit.factors,
            unit.z,
            unit.ga,
            unit.gb,
            unit.curvature_upper,
            unit.curvature_lower,
            unit.by_eta,
            unit.weights,
        )
    else:
        log_gaps = 0.0
        by_eta = fill_mode_derivatives(drains, first, last, mode, unit.mode_derivatives)
        _fill_terms(drains, first, unit)
    top = -math.inf
    for q in range(rule.nodes.size):
        unit.weights[q] += rule.log_weights[q] + log_gaps - 0.5 * unit.z[q] * unit.z[q]
        top = max(top, unit.weights[q])
    total = 0.0
    for q in range(rule.nodes.size):
        unit.weights[q] = math.exp(unit.weights[q] - top)
        total += unit.weights[q]
    for q in range(rule.nodes.size):
        unit.weights[q] /= total
    return mode, curvature, by_eta, top + math.log(total) + math.log(scale) - HALF_LOG_TWO_PI


@njit(cache=True)
def _fill_terms(drains: Drains, first: int, unit: NodeValues) -> None:
    """As `logit_factors.fill_logit_terms`, for any link and extent; the sums of log P are complete."""
    for q in range(unit.z.size):
        unit.weights[q] = 0.0
        for i in range(unit.ga.shape[1]):
            terms = terms_at(drains, first + i, unit.z[q])
            aa, ab, bb = second_derivatives(terms)
            unit.weights[q] += terms[0]
            unit.ga[q, i], unit.gb[q, i], unit.by_eta[q, i] = terms[1], terms[2], -(terms[1] + terms[2])
            unit.curvature_upper[q, i], unit.curvature_lower[q, i] = aa + ab, ab + bb
