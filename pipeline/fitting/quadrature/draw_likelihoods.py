"""Log marginal likelihood at many draws of the parameters, compiled and parallel, for sampling the posterior.

The quadrature is that of `adaptive_quadrature`; under the logit link a unit's density is computed from factors.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit, prange

from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import (
    HALF_LOG_TWO_PI,
    LOOSE_MODE_TOLERANCE,
    Drains,
    Rule,
    UnitSlices,
    longest_unit,
)
from draincurve.pipeline.fitting.quadrature.logit_factors import bound_exponentials
from draincurve.pipeline.fitting.quadrature.unit_effect_density import (
    UnitFactors,
    unit_effect_mode,
    unit_factors,
    unit_log_density,
)
from draincurve.pipeline.fitting.thread_limits import compiled_loop
from draincurve.schemas.array_types import Floats, Integers


@compiled_loop
def log_likelihoods_of_draws(
    link: int,
    low: Integers,
    high: Integers,
    bounds: Floats,
    fixed: Floats,
    unit_sds: Floats,
    slices: UnitSlices,
    modes: Floats,
    rule: Rule,
) -> Floats:
    """Log likelihood of S parameter draws, (S,).

    bounds (S, K + 1), fixed (S, n), unit_sds (S,) : as in `Drains`, for each draw
    """
    result = np.zeros(unit_sds.size)
    longest = longest_unit(slices.starts)
    for s in prange(unit_sds.size):
        drains = Drains(link, low, high, bounds[s], fixed[s], unit_sds[s])
        exp_bounds = bound_exponentials(drains.bounds)
        workspace = np.empty((3, longest))
        log_values = np.empty(rule.nodes.size)
        total = 0.0
        for u in range(modes.size):
            first, last = slices.starts[u], slices.starts[u + 1]
            unit = unit_factors(drains, first, last, exp_bounds, workspace)
            mode, curvature = unit_effect_mode(drains, first, last, unit, modes[u], LOOSE_MODE_TOLERANCE)
            total += _log_marginal(drains, first, last, unit, mode, curvature, rule, log_values)
        result[s] = total
    return result


@njit(cache=True)
def _log_marginal(
    drains: Drains,
    first: int,
    last: int,
    unit: UnitFactors,
    mode: float,
    curvature: float,
    rule: Rule,
    log_values: Floats,
) -> float:
    """Log of a unit's density integrated over its effect; `log_values` (Q,) is overwritten."""
    scale = math.sqrt(2.0 / curvature)
    top = -math.inf
    for q in range(rule.nodes.size):
        log_values[q] = rule.log_weights[q] + unit_log_density(
            drains, first, last, unit, mode + scale * rule.nodes[q]
        )
        top = max(top, log_values[q])
    total = 0.0
    for q in range(rule.nodes.size):
        total += math.exp(log_values[q] - top)
    return top + math.log(total) + math.log(scale) - HALF_LOG_TWO_PI
