"""Draws of every unit's effect given each draw of the parameters, compiled and parallel.

The density of z given a unit's ratings is log-concave. It is tabulated on a grid on both sides of its mode, each side
as wide as the density needs since it may be skewed, and is taken as log-linear between grid points; the inverse
distribution function of that turns one uniform number into one draw.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit, prange

from draincurve.pipeline.fitting.likelihood import Likelihood
from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import (
    LOOSE_MODE_TOLERANCE,
    Drains,
    UnitSlices,
    longest_unit,
)
from draincurve.pipeline.fitting.quadrature.logit_factors import bound_exponentials
from draincurve.pipeline.fitting.quadrature.unit_effect_density import (
    UnitFactors,
    unit_effect_mode,
    unit_factors,
    unit_log_density,
)
from draincurve.pipeline.fitting.thread_limits import compiled_loop
from draincurve.schemas.array_types import Floats, Integers

_FIRST_HALF_WIDTH = 5.0  # first try, in standard deviations
_LOG_DROP = 10.0  # a side ends about where the log density is this much below the mode's
_STEPS = 12  # on each side
GRID_POINTS = 2 * _STEPS + 1
_MOST_TRIES = 60
_STRETCH = 1.25
_FLAT = 1e-9


def draw_unit_effects(likelihood: Likelihood, natural: Floats, *, rng: np.random.Generator) -> Floats:
    """Effects z in standard deviations, (S, U), for natural draws (S, P); units in the order of the fit."""
    data = likelihood.ratings
    effects = rng.uniform(size=(natural.shape[0], data.starts.size - 1))
    for part in likelihood.draw_chunks(natural.shape[0]):
        bounds, fixed, unit_sds = likelihood.unpacked(natural[part])
        _fill_effects(
            likelihood.link.code,
            data.low,
            data.high,
            bounds,
            fixed,
            unit_sds,
            likelihood.slices,
            likelihood.modes,
            effects[part],
        )
    return effects


@compiled_loop
def _fill_effects(
    link: int,
    low: Integers,
    high: Integers,
    bounds: Floats,
    fixed: Floats,
    unit_sds: Floats,
    slices: UnitSlices,
    modes: Floats,
    uniform: Floats,
) -> None:
    """Turn uniform numbers (S, U) into effects, in place."""
    longest = longest_unit(slices.starts)
    for s in prange(uniform.shape[0]):
        drains = Drains(link, low, high, bounds[s], fixed[s], unit_sds[s])
        exp_bounds = bound_exponentials(drains.bounds)
        workspace = np.empty((3, longest))
        grid = np.empty(GRID_POINTS)
        log_values = np.empty(GRID_POINTS)
        for u in range(modes.size):
            first, last = slices.starts[u], slices.starts[u + 1]
            unit = unit_factors(drains, first, last, exp_bounds, workspace)
            mode, curvature = unit_effect_mode(drains, first, last, unit, modes[u], LOOSE_MODE_TOLERANCE)
            fill_grid(drains, first, last, unit, mode, curvature, grid, log_values)
            uniform[s, u] = _quantile(grid, log_values, uniform[s, u])


@njit(cache=True)
def fill_grid(
    drains: Drains,
    first: int,
    last: int,
    unit: UnitFactors,
    mode: float,
    curvature: float,
    grid: Floats,
    log_values: Floats,
) -> None:
    """Tabulate a unit's log density: fill grid and log_values, (GRID_POINTS,) each."""
    half_width = _FIRST_HALF_WIDTH / math.sqrt(curvature)
    left = _side(drains, first, last, unit, mode, -half_width)
    right = _side(drains, first, last, unit, mode, half_width)
    for g in range(GRID_POINTS):
        side = left if g < _STEPS else right
        grid[g] = mode + side * abs(g - _STEPS) / _STEPS
        log_values[g] = unit_log_density(drains, first, last, unit, grid[g])


@njit(cache=True)
def _side(drains: Drains, first: int, last: int, unit: UnitFactors, mode: float, half_width: float) -> float:
    """Signed distance from the mode where a unit's log density is _LOG_DROP lower; `half_width` : the first try."""
    floor = unit_log_density(drains, first, last, unit, mode) - _LOG_DROP
    for _ in range(_MOST_TRIES):
        if unit_log_density(drains, first, last, unit, mode + half_width) <= floor:
            break
        half_width *= _STRETCH
    for _ in range(_MOST_TRIES):
        if unit_log_density(drains, first, last, unit, mode + half_width / _STRETCH) > floor:
            break
        half_width /= _STRETCH
    return half_width


@njit(cache=True)
def _quantile(grid: Floats, log_values: Floats, probability: float) -> float:
    """The quantile of a density that is log-linear between grid points."""
    top = float(log_values.max())
    total = 0.0
    for g in range(log_values.size - 1):
        total += (grid[g + 1] - grid[g]) * log_linear_mass(log_values[g] - top, log_values[g + 1] - top)
    remaining = probability * total
    for g in range(log_values.size - 1):
        width = grid[g + 1] - grid[g]
        mass = width * log_linear_mass(log_values[g] - top, log_values[g + 1] - top)
        if remaining <= mass:
            rise = log_values[g + 1] - log_values[g]
            return float(grid[g] + width * log_linear_quantile(remaining / width, log_values[g] - top, rise))
        remaining -= mass
    return float(grid[-1])


@njit(cache=True)
def log_linear_mass(left: float, right: float) -> float:
    """Integral over a step of length 1 of a density whose log is linear, from `left` to `right`."""
    rise = right - left
    if abs(rise) < _FLAT:
        return math.exp(left)
    return math.exp(left) * math.expm1(rise) / rise


@njit(cache=True)
def log_linear_quantile(mass: float, left: float, rise: float) -> float:
    """Share of a step of length 1 that holds `mass` of a density whose log rises linearly from `left` by `rise`."""
    share = mass / math.exp(left)
    if abs(rise) >= _FLAT:
        share = math.log1p(share * rise) / rise
    return min(max(share, 0.0), 1.0)
