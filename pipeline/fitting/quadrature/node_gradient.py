"""What the moving of a unit's quadrature nodes with the parameters gives to the gradient, compiled.

Fisher's identity holds the nodes still; the quadrature sum is a function of their places too.
"""

from __future__ import annotations

import math

from numba import njit

from draincurve.schemas.array_types import Floats, Integers

BEND_UP, BEND_DOWN, THIRD_UP, THIRD_DOWN = 0, 1, 2, 3
"""Rows of what is kept of a unit's chances at its mode: the sums of second derivatives of log P that hold the upper
cut and those that hold the lower, and the derivatives by each cut of the curvature in the linear predictor."""


@njit(cache=True)
def moving_nodes(
    low: Integers,
    high: Integers,
    spread: float,
    mode: float,
    curvature: float,
    mean_slope: float,
    mean_slope_node: float,
    by_eta: float,
    at_mode: Floats,
    by_base: Floats,
    by_cut: Floats,
) -> float:
    """Add the gradient's part by linear predictor (n,) and by cut (K + 1,); returns the spread's part.

    low, high : a unit's ratings (n,); mean_slope, mean_slope_node : means over the nodes of the log joint density's
    slope in z and of slope x node; by_eta : sum of the chances' slopes in the predictor at the mode; at_mode : (4, n
    or more), see above.

    With m the mode, s = curvature^(-1/2), z_q = m + sqrt(2) s x_q and g the log joint density:
    d log L / dp = E[g_p] + E[g_z] dm/dp + (1/s + sqrt(2) E[g_z x]) ds/dp, dm/dp = s^2 g_zp,
    ds/dp = s^3/2 (g_zzp + g_zzz dm/dp).
    """
    s = 1.0 / math.sqrt(curvature)
    bend = 0.0
    third = 0.0
    for i in range(low.size):
        bend += at_mode[BEND_UP, i] + at_mode[BEND_DOWN, i]
        third -= at_mode[THIRD_UP, i] + at_mode[THIRD_DOWN, i]
    by_scale = 0.5 * s**3 * (1.0 / s + math.sqrt(2.0) * mean_slope_node)
    by_mode = s * s * (mean_slope + by_scale * spread**3 * third)
    by_bend, by_third = by_mode * spread, by_scale * spread**2
    for i in range(low.size):
        up = by_third * at_mode[THIRD_UP, i] - by_bend * at_mode[BEND_UP, i]
        down = by_third * at_mode[THIRD_DOWN, i] - by_bend * at_mode[BEND_DOWN, i]
        by_base[i] -= up + down
        by_cut[high[i]] += up
        by_cut[low[i] - 1] += down
    by_mode_of_spread = by_mode * (by_eta + spread * mode * bend)
    return by_mode_of_spread + by_scale * (2.0 * spread * bend + spread**2 * mode * third)
