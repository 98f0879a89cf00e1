"""How each unit's effect hangs on the parameters, to first order: what a further drain of it would tell about both.

Near the middle of the posterior a unit's effect is its conditional mode, which moves with the parameters, plus an
independent error with the variance of the conditional density (Laplace approximation; Tierney & Kadane 1986, J. Am.
Stat. Assoc. 81, 82-86).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit

from draincurve.pipeline.fitting.likelihood import Likelihood
from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import Drains, Groups, unit_mode
from draincurve.pipeline.fitting.unit_effects.first_order_draws import fill_mode_slope
from draincurve.schemas.array_types import Floats

UNITS_A_PIECE = 8_192
"""Units whose design is made at once."""


@dataclass(frozen=True, slots=True)
class UnitSensitivity:
    """Units' effects z at one vector of natural parameters, units in the order of the fit.

    modes (U,); variances (U,) of z about its mode; slopes (U, parameters) of the modes, natural order (thresholds,
    columns, spread).
    """

    modes: Floats
    variances: Floats
    slopes: Floats


def unit_sensitivity(likelihood: Likelihood, natural: Floats) -> UnitSensitivity:
    """Modes, variances and slopes of every unit's effect at natural parameters (parameters,)."""
    modes, curvatures = np.empty(likelihood.modes.size), np.empty(likelihood.modes.size)
    slopes = np.zeros((modes.size, natural.size))
    for begin in range(0, modes.size, UNITS_A_PIECE):
        some = slice(begin, min(begin + UNITS_A_PIECE, modes.size))
        part = likelihood.of_units(np.arange(some.start, some.stop))
        drains, design = part.drains(natural), part.ratings.design
        _fill(drains, design, part.groups, likelihood.modes[some], modes[some], curvatures[some], slopes[some])
    return UnitSensitivity(modes, 1.0 / curvatures, slopes)


@njit(cache=True)
def _fill(
    drains: Drains,
    design: Floats,
    groups: Groups,
    start: Floats,
    modes: Floats,
    curvatures: Floats,
    slopes: Floats,
) -> None:
    """Fill modes, curvatures and slopes: d mode / dp = (second derivative in z and p) / curvature."""
    for u in range(modes.size):
        first, last = groups.starts[u], groups.starts[u + 1]
        z, curvature = unit_mode(drains, first, last, start[u])
        modes[u], curvatures[u] = z, curvature
        fill_mode_slope(drains, design, first, last, z, curvature, slopes[u])
