"""The part of the gradient that comes from a unit's quadrature nodes moving with the parameters, compiled.

Fisher's identity holds the nodes fixed, but the quadrature sum depends on their locations too, and these on the
parameters, through the mode and the curvature.
"""

from __future__ import annotations

import math

from numba import njit

from draincurve.schemas.array_types import Floats, Integers

CURVATURE_UPPER, CURVATURE_LOWER, THIRD_UPPER, THIRD_LOWER = 0, 1, 2, 3
"""Rows of the derivatives of log P of a unit's ratings at its mode: minus the mixed second derivative by the linear
predictor and the upper bound, the same for the lower bound, and the derivatives by each bound of the second
derivative by the linear predictor."""


@njit(cache=True)
def add_node_gradient(
    low: Integers,
    high: Integers,
    unit_sd: float,
    mode: float,
    curvature: float,
    mean_slope: float,
    mean_slope_node: float,
    by_eta: float,
    mode_derivatives: Floats,
    by_predictor: Floats,
    by_bound: Floats,
) -> float:
    """Add the part by linear predictor (n,) and by bound (K + 1,); returns the part by the unit sd.

    low, high : a unit's ratings (n,); mean_slope, mean_slope_node : means over the nodes of the log joint density's
    derivative by z, and of derivative x node; by_eta : sum of the derivatives of log P by the linear predictor at the
    mode; mode_derivatives : (4, n or more), see above.

    With m the mode, s = curvature^(-1/2), z_q = m + sqrt(2) s x_q and g the log joint density:
    d log L / dp = E[g_p] + E[g_z] dm/dp + (1/s + sqrt(2) E[g_z x]) ds/dp, dm/dp = s^2 g_zp,
    ds/dp = s^3/2 (g_zzp + g_zzz dm/dp).
    """
    s = 1.0 / math.sqrt(curvature)
    second = 0.0
    third = 0.0
    for i in range(low.size):
        second += mode_derivatives[CURVATURE_UPPER, i] + mode_derivatives[CURVATURE_LOWER, i]
        third -= mode_derivatives[THIRD_UPPER, i] + mode_derivatives[THIRD_LOWER, i]
    by_scale = 0.5 * s**3 * (1.0 / s + math.sqrt(2.0) * mean_slope_node)
    by_mode = s * s * (mean_slope + by_scale * unit_sd**3 * third)
    by_second, by_third = by_mode * unit_sd, by_scale * unit_sd**2
    for i in range(low.size):
        upper = by_third * mode_derivatives[THIRD_UPPER, i] - by_second * mode_derivatives[CURVATURE_UPPER, i]
        lower = by_third * mode_derivatives[THIRD_LOWER, i] - by_second * mode_derivatives[CURVATURE_LOWER, i]
        by_predictor[i] -= upper + lower
        by_bound[high[i]] += upper
        by_bound[low[i] - 1] += lower
    through_mode = by_mode * (by_eta + unit_sd * mode * second)
    return through_mode + by_scale * (2.0 * unit_sd * second + unit_sd**2 * mode * third)
