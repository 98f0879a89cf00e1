"""Log marginal likelihood at many draws of the parameters, compiled and parallel: what sampling a posterior costs.

The quadrature is that of `adaptive_quadrature`; under the logit link a unit's density is computed by factors.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit, prange

from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import (
    HALF_LOG_TWO_PI,
    NEAR,
    Drains,
    Groups,
    Rule,
    longest_unit,
)
from draincurve.pipeline.fitting.quadrature.logit_factors import cut_factors
from draincurve.pipeline.fitting.quadrature.unit_effect_density import Factored, factored, log_density, mode_of
from draincurve.schemas.array_types import Floats, Integers


@njit(cache=True, parallel=True)
def log_likelihoods(
    link: int,
    low: Integers,
    high: Integers,
    cuts: Floats,
    base: Floats,
    spreads: Floats,
    groups: Groups,
    modes: Floats,
    rule: Rule,
) -> Floats:
    """Log likelihood of many parameter draws: cuts (S, K + 1), base (S, n), spreads (S,); returns (S,)."""
    result = np.zeros(spreads.size)
    longest = longest_unit(groups.starts)
    for s in prange(spreads.size):
        drains = Drains(link, low, high, cuts[s], base[s], spreads[s])
        by_cut = cut_factors(drains.cuts)
        memory = np.empty((3, longest))
        heights = np.empty(rule.nodes.size)
        total = 0.0
        for u in range(modes.size):
            first, last = groups.starts[u], groups.starts[u + 1]
            unit = factored(drains, first, last, by_cut, memory)
            mode, curvature = mode_of(drains, first, last, unit, modes[u], NEAR)
            total += _log_marginal(drains, first, last, unit, mode, curvature, rule, heights)
        result[s] = total
    return result


@njit(cache=True)
def _log_marginal(
    drains: Drains,
    first: int,
    last: int,
    unit: Factored,
    mode: float,
    curvature: float,
    rule: Rule,
    heights: Floats,
) -> float:
    """Log of a unit's density integrated over its effect; `heights` (Q,) is overwritten."""
    scale = math.sqrt(2.0 / curvature)
    top = -math.inf
    for q in range(rule.nodes.size):
        heights[q] = rule.log_weights[q] + log_density(drains, first, last, unit, mode + scale * rule.nodes[q])
        top = max(top, heights[q])
    total = 0.0
    for q in range(rule.nodes.size):
        total += math.exp(heights[q] - top)
    return top + math.log(total) + math.log(scale) - HALF_LOG_TWO_PI
