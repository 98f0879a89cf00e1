"""A unit's log density over its effect, compiled: under the logit link from factors, without exponentials a chance.

What is kept of a unit is three factors a drain (see `logit_factors`); empty factors mean the plain way, chance
by chance, which serves every link and every place.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit

from draincurve.pipeline.fitting.links import LOGIT
from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import CLOSE, Drains, log_joint, unit_mode
from draincurve.pipeline.fitting.quadrature.logit_factors import fill_factors, log_chances, logit_mode, near_enough
from draincurve.schemas.array_types import Floats


class Factored(NamedTuple):
    """A unit's factors, (3, n or more) or empty; log of its gaps' product; how far out its drains and cuts lie."""

    factors: Floats
    gaps: float
    reach: float


@njit(cache=True)
def plain() -> Factored:
    """No factors: chance by chance."""
    return Factored(np.empty((0, 0)), 0.0, math.inf)


@njit(cache=True)
def factored(drains: Drains, first: int, last: int, by_cut: Floats, memory: Floats) -> Factored:
    """A unit's factors, in `memory` (3, n or more); none but for the logit link."""
    if drains.link != LOGIT:
        return plain()
    gaps, reach = fill_factors(drains, first, last, by_cut, memory)
    return Factored(memory, gaps, reach)


@njit(cache=True)
def mode_of(
    drains: Drains, first: int, last: int, unit: Factored, z: float, close: float = CLOSE
) -> tuple[float, float]:
    """(mode, curvature) as `adaptive_quadrature.unit_mode` has them."""
    if unit.factors.shape[0]:
        mode, curvature, found = logit_mode(drains, last - first, unit.factors, unit.reach, z, close)
        if found:
            return mode, curvature
    return unit_mode(drains, first, last, z, close)


@njit(cache=True)
def log_density(drains: Drains, first: int, last: int, unit: Factored, z: float) -> float:
    """As `adaptive_quadrature.log_joint`."""
    if unit.factors.shape[0] == 0 or not near_enough(drains, unit.reach, z):
        return float(log_joint(drains, first, last, z))
    up = math.exp(drains.spread * z)
    return float(unit.gaps + log_chances(last - first, unit.factors, up, 1.0 / up) - 0.5 * z * z)
