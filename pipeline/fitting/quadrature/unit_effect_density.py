"""A unit's joint log density as a function of its effect, and the mode: the fast way where there is one, compiled.

Under the logit link a unit is reduced to three factors a drain (`logit_factors`). Without factors, and where their
products would overflow, `adaptive_quadrature` evaluates rating by rating, for any link.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit

from draincurve.pipeline.fitting.links import LOGIT
from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import (
    MODE_TOLERANCE,
    Drains,
    log_joint_density,
    unit_mode,
)
from draincurve.pipeline.fitting.quadrature.logit_factors import (
    fill_factors,
    log_probabilities,
    logit_unit_mode,
    products_are_finite,
)
from draincurve.schemas.array_types import Floats


class UnitFactors(NamedTuple):
    """factors : (3, n or more), or empty; log_gaps, extent : see `logit_factors.fill_factors`."""

    factors: Floats
    log_gaps: float
    extent: float


@njit(cache=True)
def no_factors() -> UnitFactors:
    """No factors: every density is evaluated rating by rating."""
    return UnitFactors(np.empty((0, 0)), 0.0, math.inf)


@njit(cache=True)
def unit_factors(drains: Drains, first: int, last: int, exp_bounds: Floats, workspace: Floats) -> UnitFactors:
    """A unit's factors, written to `workspace` (3, n or more); no factors unless the link is the logit."""
    if drains.link != LOGIT:
        return no_factors()
    log_gaps, extent = fill_factors(drains, first, last, exp_bounds, workspace)
    return UnitFactors(workspace, log_gaps, extent)


@njit(cache=True)
def unit_effect_mode(
    drains: Drains, first: int, last: int, unit: UnitFactors, z: float, tolerance: float = MODE_TOLERANCE
) -> tuple[float, float]:
    """As `adaptive_quadrature.unit_mode`."""
    if unit.factors.shape[0]:
        mode, curvature, converged = logit_unit_mode(drains, last - first, unit.factors, unit.extent, z, tolerance)
        if converged:
            return mode, curvature
    return unit_mode(drains, first, last, z, tolerance)


@njit(cache=True)
def unit_log_density(drains: Drains, first: int, last: int, unit: UnitFactors, z: float) -> float:
    """As `adaptive_quadrature.log_joint_density`."""
    if unit.factors.shape[0] == 0 or not products_are_finite(drains, unit.extent, z):
        return float(log_joint_density(drains, first, last, z))
    up = math.exp(drains.unit_sd * z)
    return float(unit.log_gaps + log_probabilities(last - first, unit.factors, up, 1.0 / up) - 0.5 * z * z)
