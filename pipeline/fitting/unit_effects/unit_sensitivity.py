"""How each unit's effect depends on the parameters, to first order.

Near the posterior mean, a unit's effect is its conditional mode, which depends on the parameters, plus an independent
error with the variance of the conditional density (Laplace approximation; Tierney & Kadane 1986, J. Am. Stat. Assoc.
81, 82-86). The expected information gain of a further drain is computed from it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit

from draincurve.pipeline.fitting.likelihood import Likelihood
from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import Drains, UnitSlices, unit_mode
from draincurve.pipeline.fitting.unit_effects.first_order_draws import fill_mode_slope
from draincurve.schemas.array_types import Floats

CHUNK_UNITS = 8_192
"""Units whose design columns are made at once."""


@dataclass(frozen=True, slots=True)
class UnitSensitivity:
    """Units' effects z at one vector of natural parameters, units in the order of the fit.

    modes : (U,), of z
    variances : (U,), of z about its mode
    slopes : (U, P), derivatives of the modes by the natural parameters
    """

    modes: Floats
    variances: Floats
    slopes: Floats


def unit_sensitivity(likelihood: Likelihood, natural: Floats) -> UnitSensitivity:
    """Modes, variances and slopes of every unit's effect at natural parameters (P,)."""
    modes, curvatures = np.empty(likelihood.modes.size), np.empty(likelihood.modes.size)
    slopes = np.zeros((modes.size, natural.size))
    for begin in range(0, modes.size, CHUNK_UNITS):
        some = slice(begin, min(begin + CHUNK_UNITS, modes.size))
        part = likelihood.of_units(np.arange(some.start, some.stop))
        drains, design = part.drains(natural), part.ratings.design
        _fill(drains, design, part.slices, likelihood.modes[some], modes[some], curvatures[some], slopes[some])
    return UnitSensitivity(modes, 1.0 / curvatures, slopes)


@njit(cache=True)
def _fill(
    drains: Drains,
    design: Floats,
    slices: UnitSlices,
    start: Floats,
    modes: Floats,
    curvatures: Floats,
    slopes: Floats,
) -> None:
    """Fill modes, curvatures and slopes."""
    for u in range(modes.size):
        first, last = slices.starts[u], slices.starts[u + 1]
        z, curvature = unit_mode(drains, first, last, start[u])
        modes[u], curvatures[u] = z, curvature
        fill_mode_slope(drains, design, first, last, z, curvature, slopes[u])
