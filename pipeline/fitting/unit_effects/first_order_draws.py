"""Draws of unit effects in a large log, where tabulating every unit's density for every draw would take too long.

The parameters are then known so well that a unit's effect depends on them linearly, to a good approximation. So each
unit's density is tabulated once, as in `grid_draws`, at the posterior mean of the parameters. A draw is a quantile of
it, shifted by the derivative of the unit's mode by the parameters times the deviation of the drawn parameters from
their mean (Tierney & Kadane 1986, J. Am. Stat. Assoc. 81, 82-86). Quantiles are stratified, in random order, so that
means over few draws have little noise.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from draincurve.pipeline.fitting.likelihood import Likelihood
from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import Drains, UnitSlices, longest_unit, terms_at
from draincurve.pipeline.fitting.quadrature.logit_factors import bound_exponentials
from draincurve.pipeline.fitting.quadrature.rating_probability import second_derivatives
from draincurve.pipeline.fitting.quadrature.unit_effect_density import unit_effect_mode, unit_factors
from draincurve.pipeline.fitting.unit_effects.grid_draws import (
    GRID_POINTS,
    fill_grid,
    log_linear_mass,
    log_linear_quantile,
)
from draincurve.schemas.array_types import Floats, Integers


def first_order_effects(
    likelihood: Likelihood, natural: Floats, *, units: Integers, rng: np.random.Generator
) -> Floats:
    """Effects z of some units in standard deviations, (S, units), for natural draws (S, P)."""
    mean = natural.mean(axis=0)
    strata = rng.permuted(np.tile(np.arange(natural.shape[0]), (units.size, 1)), axis=1)
    probabilities = (strata + rng.uniform(size=strata.shape)) / natural.shape[0]
    part = likelihood.of_units(units)
    modes = likelihood.modes[units]
    _fill(part.drains(mean), part.ratings.design, part.slices, modes, natural - mean, probabilities)
    return np.ascontiguousarray(probabilities.T)


@njit(cache=True, nogil=True)
def _fill(
    drains: Drains,
    design: Floats,
    slices: UnitSlices,
    modes: Floats,
    deviations: Floats,
    probabilities: Floats,
) -> None:
    """Turn probabilities (units, S) into effects, in place; on one thread, as blocks of units run in parallel.

    deviations : (S, P), of the drawn parameters from their mean
    """
    exp_bounds = bound_exponentials(drains.bounds)
    workspace = np.empty((3, longest_unit(slices.starts)))
    for u in range(modes.size):
        first, last = slices.starts[u], slices.starts[u + 1]
        unit = unit_factors(drains, first, last, exp_bounds, workspace)
        mode, curvature = unit_effect_mode(drains, first, last, unit, modes[u])
        grid = np.empty(GRID_POINTS)
        log_values = np.empty(GRID_POINTS)
        below = np.empty(GRID_POINTS)
        fill_grid(drains, first, last, unit, mode, curvature, grid, log_values)
        _accumulate(grid, log_values, below)
        slope = np.zeros(deviations.shape[1])
        fill_mode_slope(drains, design, first, last, mode, curvature, slope)
        for s in range(deviations.shape[0]):
            shift = 0.0
            for j in range(slope.size):
                shift += slope[j] * deviations[s, j]
            probabilities[u, s] = _quantile(grid, log_values, below, probabilities[u, s]) + shift


@njit(cache=True)
def fill_mode_slope(
    drains: Drains, design: Floats, first: int, last: int, z: float, curvature: float, slope: Floats
) -> None:
    """Fill d mode / dp, (P,), of one unit: the mixed second derivative by z and p over the curvature."""
    n_thresholds = drains.bounds.size - 2
    columns = design.shape[1]
    for i in range(first, last):
        terms = terms_at(drains, i, z)
        aa, ab, bb = second_derivatives(terms)
        curve = aa + 2.0 * ab + bb
        if drains.high[i] <= n_thresholds:
            slope[drains.high[i] - 1] -= drains.unit_sd * (aa + ab)
        if drains.low[i] > 1:
            slope[drains.low[i] - 2] -= drains.unit_sd * (ab + bb)
        for j in range(columns):
            slope[n_thresholds + j] += drains.unit_sd * curve * design[i, j]
        slope[n_thresholds + columns] += drains.unit_sd * z * curve - terms[1] - terms[2]
    slope /= curvature


@njit(cache=True)
def _accumulate(grid: Floats, log_values: Floats, below: Floats) -> None:
    """Fill the mass below each grid point and subtract the largest of the log_values."""
    top = log_values.max()
    for g in range(log_values.size):
        log_values[g] -= top
    below[0] = 0.0
    for g in range(1, grid.size):
        below[g] = below[g - 1] + (grid[g] - grid[g - 1]) * log_linear_mass(log_values[g - 1], log_values[g])


@njit(cache=True)
def _quantile(grid: Floats, log_values: Floats, below: Floats, probability: float) -> float:
    """The quantile of the tabulated density, from the mass below each grid point."""
    wanted = probability * below[-1]
    g = min(max(np.searchsorted(below, wanted) - 1, 0), grid.size - 2)
    width = grid[g + 1] - grid[g]
    rise = log_values[g + 1] - log_values[g]
    return float(grid[g] + width * log_linear_quantile((wanted - below[g]) / width, log_values[g], rise))
