"""Draws of every unit's effect given each draw of the parameters, compiled and parallel.

The density of z given a unit's ratings is log-concave, so it is laid out on a grid of half its own standard
deviation around its mode and taken as log-linear in between; one uniform number then gives one exact draw from that
(inverse distribution function).
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit, prange

from pipeline.fitting.likelihood import Likelihood
from pipeline.fitting.quadrature import Drains, Floats, Groups, Integers, log_joint, unit_mode

_REACH = 5.0  # the grid reaches five standard deviations either side
_POINTS = 21


def draw_unit_effects(likelihood: Likelihood, natural: Floats, rng: np.random.Generator) -> Floats:
    """Effects z on the scale of one standard deviation, (S, U), for natural draws (S, parameters), in fit order."""
    data = likelihood.ratings
    effects = rng.uniform(size=(natural.shape[0], data.starts.size - 1))
    for part in likelihood.pieces(natural.shape[0]):
        cuts, base, spreads = likelihood.many(natural[part])
        _fill_effects(
            likelihood.link.code,
            data.low,
            data.high,
            cuts,
            base,
            spreads,
            likelihood.groups,
            likelihood.modes,
            effects[part],
        )
    return effects


@njit(cache=True, parallel=True)
def _fill_effects(
    link: int,
    low: Integers,
    high: Integers,
    cuts: Floats,
    base: Floats,
    spreads: Floats,
    groups: Groups,
    modes: Floats,
    uniform: Floats,
) -> None:
    """Turn uniform numbers (S, U) into effects, in place."""
    for s in prange(uniform.shape[0]):
        drains = Drains(link, low, high, cuts[s], base[s], spreads[s])
        heights = np.empty(_POINTS)
        for u in range(modes.size):
            first, last = groups.starts[u], groups.starts[u + 1]
            mode, curvature = unit_mode(drains, first, last, modes[u])
            width = 2.0 * _REACH / (math.sqrt(curvature) * (_POINTS - 1))
            left = mode - width * (_POINTS - 1) / 2
            for g in range(_POINTS):
                heights[g] = log_joint(drains, first, last, left + width * g)
            uniform[s, u] = left + width * _inverse(heights, uniform[s, u])


@njit(cache=True)
def _inverse(heights: Floats, chance: float) -> float:
    """Place, in steps of the grid, below which lies `chance` of a density that is log-linear between grid points."""
    top = float(heights.max())
    total = 0.0
    for g in range(heights.size - 1):
        total += _mass(heights[g] - top, heights[g + 1] - top)
    left_over = chance * total
    for g in range(heights.size - 1):
        mass = _mass(heights[g] - top, heights[g + 1] - top)
        if left_over <= mass:
            rise = heights[g + 1] - heights[g]
            share = left_over / math.exp(heights[g] - top)
            if abs(rise) < 1e-9:
                return float(g + min(max(share, 0.0), 1.0))
            return float(g + min(max(math.log1p(share * rise) / rise, 0.0), 1.0))
        left_over -= mass
    return float(heights.size - 1)


@njit(cache=True)
def _mass(left: float, right: float) -> float:
    """Integral over one grid step of a density whose log runs straight from left to right."""
    rise = right - left
    if abs(rise) < 1e-9:
        return math.exp(left)
    return math.exp(left) * math.expm1(rise) / rise
