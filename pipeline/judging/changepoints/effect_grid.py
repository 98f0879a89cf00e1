"""The grid of a unit's effect over which predictions are averaged, and its weights before any drain.

Equal steps (the trapezoid rule) are very accurate for smooth densities once the step is no wider than their own
standard deviation; Trefethen & Weideman 2014, SIAM Rev. 56, 385-458.
"""

from __future__ import annotations

import math

import numpy as np

from draincurve.schemas.array_types import Floats

_HALF_WIDTH = 14.0
"""Half width of the grid in sds of the unit effect, wide enough for extreme units."""

_INFORMATION = 0.5
"""Upper bound on the information of one rating on its linear predictor (logit 1/3, probit 0.30)."""


def effect_grid(unit_sd: float, link_scale: float, *, most_drains: int) -> Floats:
    """The grid of z, (Q,), with a step smaller than the sd of z after `most_drains` ratings.

    unit_sd : sd of the unit effect on the scale of the link; link_scale : the link's sd relative to the logit's.
    """
    step = 1.0 / math.sqrt(1.0 + _INFORMATION * most_drains * (unit_sd / link_scale) ** 2)
    half = math.ceil(_HALF_WIDTH / step)
    return np.linspace(-_HALF_WIDTH, _HALF_WIDTH, 2 * half + 1)


def long_tailed_prior(grid: Floats) -> Floats:
    """Weights of the grid under a t distribution with 3 degrees of freedom, (Q,).

    With it a unit that is extreme from the start is soon known as such by its own drains; the normal prior would keep
    shrinking it to the fleet, and each of its drains would look like a change.
    """
    weight = (1.0 + grid**2 / 3.0) ** -2.0
    return np.asarray(weight / weight.sum())
