"""Draws of unit effects in a large log, where laying out every unit's density anew for every draw would not do.

The parameters are then known so well that they move a unit's effect to first order only. So each unit's density is
laid out once, at the posterior mean of the parameters, as `grid_draws` lays it out; a draw takes a place in it and
moves it by the slope of the unit's mode in the parameters times how far the drawn parameters lie from their mean
(Tierney & Kadane 1986, J. Am. Stat. Assoc. 81, 82-86). Places fill the quantiles evenly, in random order, so that few
draws give means with little noise.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from draincurve.pipeline.fitting.likelihood import Likelihood
from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import Drains, Groups, cell_at, longest_unit
from draincurve.pipeline.fitting.quadrature.logit_factors import cut_factors
from draincurve.pipeline.fitting.quadrature.rating_probability import second_derivatives
from draincurve.pipeline.fitting.quadrature.unit_effect_density import factored, mode_of
from draincurve.pipeline.fitting.unit_effects.grid_draws import GRID_POINTS, fill_grid, log_linear_mass
from draincurve.schemas.array_types import Floats, Integers

_NEAR_FLAT = 1e-9


def laid_out_effects(likelihood: Likelihood, natural: Floats, units: Integers, rng: np.random.Generator) -> Floats:
    """Effects z of some units on the scale of one standard deviation, (S, units), for natural draws (S, P)."""
    mean = natural.mean(axis=0)
    places = rng.permuted(np.tile(np.arange(natural.shape[0]), (units.size, 1)), axis=1)
    chances = (places + rng.uniform(size=places.shape)) / natural.shape[0]
    part = likelihood.of_units(units)
    modes = likelihood.modes[units]
    _fill(part.drains(mean), part.ratings.design, part.groups, modes, natural - mean, chances)
    return np.ascontiguousarray(chances.T)


@njit(cache=True, nogil=True)
def _fill(
    drains: Drains,
    design: Floats,
    groups: Groups,
    modes: Floats,
    away: Floats,
    chances: Floats,
) -> None:
    """Turn chances (units, S) into effects, in place. On one thread: blocks of units are worked off side by side."""
    by_cut = cut_factors(drains.cuts)
    memory = np.empty((3, longest_unit(groups.starts)))
    for at in range(modes.size):
        first, last = groups.starts[at], groups.starts[at + 1]
        unit = factored(drains, first, last, by_cut, memory)
        mode, curvature = mode_of(drains, first, last, unit, modes[at])
        places = np.empty(GRID_POINTS)
        heights = np.empty(GRID_POINTS)
        below = np.empty(GRID_POINTS)
        fill_grid(drains, first, last, unit, mode, curvature, places, heights)
        _accumulate(places, heights, below)
        slope = np.zeros(away.shape[1])
        fill_mode_slope(drains, design, first, last, mode, curvature, slope)
        for s in range(away.shape[0]):
            moved = 0.0
            for j in range(slope.size):
                moved += slope[j] * away[s, j]
            chances[at, s] = _place(places, heights, below, chances[at, s]) + moved


@njit(cache=True)
def fill_mode_slope(
    drains: Drains, design: Floats, first: int, last: int, z: float, curvature: float, slope: Floats
) -> None:
    """Fill d mode / dp, (P,) in natural order: the second derivative in z and p over the curvature."""
    n_cuts = drains.cuts.size - 2
    columns = design.shape[1]
    for i in range(first, last):
        parts = cell_at(drains, i, z)
        aa, ab, bb = second_derivatives(parts)
        curve = aa + 2.0 * ab + bb
        if drains.high[i] <= n_cuts:
            slope[drains.high[i] - 1] -= drains.spread * (aa + ab)
        if drains.low[i] > 1:
            slope[drains.low[i] - 2] -= drains.spread * (ab + bb)
        for j in range(columns):
            slope[n_cuts + j] += drains.spread * curve * design[i, j]
        slope[n_cuts + columns] += drains.spread * z * curve - parts[1] - parts[2]
    slope /= curvature


@njit(cache=True)
def _accumulate(places: Floats, heights: Floats, below: Floats) -> None:
    """Fill the mass below each grid point and take the top off the heights."""
    top = heights.max()
    for g in range(heights.size):
        heights[g] -= top
    below[0] = 0.0
    for g in range(1, places.size):
        below[g] = below[g - 1] + (places[g] - places[g - 1]) * log_linear_mass(heights[g - 1], heights[g])


@njit(cache=True)
def _place(places: Floats, heights: Floats, below: Floats, chance: float) -> float:
    """Place below which lies `chance` of the density."""
    wanted = chance * below[-1]
    g = min(max(np.searchsorted(below, wanted) - 1, 0), places.size - 2)
    width = places[g + 1] - places[g]
    rise = heights[g + 1] - heights[g]
    share = (wanted - below[g]) / width / math.exp(heights[g])
    if abs(rise) >= _NEAR_FLAT:
        share = math.log1p(share * rise) / rise
    return float(places[g] + width * min(max(share, 0.0), 1.0))
