"""Draws of every unit's effect given each draw of the parameters, compiled and parallel.

The density of z given a unit's ratings is log-concave, so it is laid out on a grid from its mode to where it has
fallen to nothing, for each side by itself since it may be skewed, and taken as log-linear in between; one uniform
number then gives one exact draw from that (inverse distribution function).
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit, prange

from draincurve.pipeline.fitting.likelihood import Likelihood
from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import NEAR, Drains, Groups, longest_unit
from draincurve.pipeline.fitting.quadrature.logit_factors import cut_factors
from draincurve.pipeline.fitting.quadrature.unit_effect_density import Factored, factored, log_density, mode_of
from draincurve.schemas.array_types import Floats, Integers

_REACH = 5.0  # the grid first tries five standard deviations either side
_GONE = 10.0  # and then goes to where the log density has fallen by this much, and not much farther
_STEPS = 12  # on each side
GRID_POINTS = 2 * _STEPS + 1
_MOST_TRIES = 60
_STRETCH = 1.25


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
    longest = longest_unit(groups.starts)
    for s in prange(uniform.shape[0]):
        drains = Drains(link, low, high, cuts[s], base[s], spreads[s])
        by_cut = cut_factors(drains.cuts)
        memory = np.empty((3, longest))
        places = np.empty(GRID_POINTS)
        heights = np.empty(GRID_POINTS)
        for u in range(modes.size):
            first, last = groups.starts[u], groups.starts[u + 1]
            unit = factored(drains, first, last, by_cut, memory)
            mode, curvature = mode_of(drains, first, last, unit, modes[u], NEAR)
            fill_grid(drains, first, last, unit, mode, curvature, places, heights)
            uniform[s, u] = _inverse(places, heights, uniform[s, u])


@njit(cache=True)
def fill_grid(
    drains: Drains,
    first: int,
    last: int,
    unit: Factored,
    mode: float,
    curvature: float,
    places: Floats,
    heights: Floats,
) -> None:
    """Lay out a unit's log density from its mode: fill places and heights, (GRID_POINTS,) each."""
    reach = _REACH / math.sqrt(curvature)
    left = _side(drains, first, last, unit, mode, -reach)
    right = _side(drains, first, last, unit, mode, reach)
    for g in range(GRID_POINTS):
        side = left if g < _STEPS else right
        places[g] = mode + side * abs(g - _STEPS) / _STEPS
        heights[g] = log_density(drains, first, last, unit, places[g])


@njit(cache=True)
def _side(drains: Drains, first: int, last: int, unit: Factored, mode: float, reach: float) -> float:
    """How far from the mode, with the sign of `reach`, a unit's density has fallen to nothing."""
    floor = log_density(drains, first, last, unit, mode) - _GONE
    for _ in range(_MOST_TRIES):
        if log_density(drains, first, last, unit, mode + reach) <= floor:
            break
        reach *= _STRETCH
    for _ in range(_MOST_TRIES):
        if log_density(drains, first, last, unit, mode + reach / _STRETCH) > floor:
            break
        reach /= _STRETCH
    return reach


@njit(cache=True)
def _inverse(places: Floats, heights: Floats, chance: float) -> float:
    """Place below which lies `chance` of a density that is log-linear between grid points."""
    top = float(heights.max())
    total = 0.0
    for g in range(heights.size - 1):
        total += (places[g + 1] - places[g]) * log_linear_mass(heights[g] - top, heights[g + 1] - top)
    left_over = chance * total
    for g in range(heights.size - 1):
        width = places[g + 1] - places[g]
        mass = width * log_linear_mass(heights[g] - top, heights[g + 1] - top)
        if left_over <= mass:
            rise = heights[g + 1] - heights[g]
            share = left_over / width / math.exp(heights[g] - top)
            if abs(rise) >= 1e-9:
                share = math.log1p(share * rise) / rise
            return float(places[g] + width * min(max(share, 0.0), 1.0))
        left_over -= mass
    return float(places[-1])


@njit(cache=True)
def log_linear_mass(left: float, right: float) -> float:
    """Integral over one grid step of a density whose log runs straight from left to right."""
    rise = right - left
    if abs(rise) < 1e-9:
        return math.exp(left)
    return math.exp(left) * math.expm1(rise) / rise
