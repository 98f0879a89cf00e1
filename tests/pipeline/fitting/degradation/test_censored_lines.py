"""Lines where readings are only known to be under or over a bound: by brute force, and against filling in."""

import numpy as np
import pytest
from scipy.stats import norm

from draincurve.pipeline.fitting.degradation.censored_likelihood import (
    censored_readings,
    log_likelihoods,
    value_and_gradient,
)
from draincurve.pipeline.fitting.degradation.censored_lines import fit_censored
from draincurve.schemas.errors import FitError

POINT = np.array([0.1, 0.6, -0.8, 0.9, 0.2, 0.5])


def fleet(units, readings, seed=2, bound=3.0):
    """Response with the bound in place of what lies under it, clock, unit, side."""
    rng = np.random.default_rng(seed)
    unit = np.repeat(np.arange(units), readings)
    clock = rng.uniform(0, 20, unit.size)
    own = rng.normal(size=(2, units))
    true = 2 + own[0][unit] + (0.3 + 0.1 * own[1][unit]) * clock + rng.normal(size=unit.size)
    return np.maximum(true, bound), clock, unit, np.where(true < bound, -1, 0)


def brute_force(readings, point):
    """The integrals over a fine grid, which for such smooth densities are right to many digits."""
    b0, b1, log_s, l00, l10, l11 = point
    grid = np.linspace(-8, 8, 401)
    z0, z1 = (axis[..., None] for axis in np.meshgrid(grid, grid))
    total = 0.0
    for first, count in zip(readings.first, readings.counts, strict=True):
        x, y, side = (part[first : first + count] for part in (readings.x, readings.y, readings.side))
        deviation = (y - b0 - b1 * x) / np.exp(log_s) - (l00 + l10 * x) * z0 - l11 * x * z1
        parts = np.where(side == 0, norm.pdf(deviation) / np.exp(log_s), norm.cdf(-side * deviation))
        density = parts.prod(axis=2) * norm.pdf(z0[..., 0]) * norm.pdf(z1[..., 0])
        total += np.log(density.sum() * (grid[1] - grid[0]) ** 2)
    return total


def test_likelihood_and_gradient_by_brute_force():
    response, clock, unit, side = fleet(6, 5)
    side[1], side[2] = 1, -1
    readings = censored_readings(response, clock, unit=unit, side=side)
    value, gradient = value_and_gradient(readings, POINT)
    assert value == pytest.approx(brute_force(readings, POINT), abs=1e-5)
    assert log_likelihoods(readings, POINT[None, :])[0] == pytest.approx(value, abs=1e-6)
    moves = 1e-5 * np.vstack((np.eye(6), -np.eye(6)))
    near = np.array([log_likelihoods(readings, (POINT + move)[None, :])[0] for move in moves])
    assert gradient == pytest.approx((near[:6] - near[6:]) / 2e-5, abs=1e-4)


def test_bounds_are_neither_halved_nor_taken_for_values():
    response, clock, unit, side = fleet(30, 8, bound=4.0)
    fit, lines = fit_censored(response, clock, unit=unit, side=side, rng=np.random.default_rng(1))
    halved = np.polyfit(clock, np.where(side < 0, response / 2, response), 1)[0]
    replaced = np.polyfit(clock, response, 1)[0]
    assert (side < 0).mean() > 0.25
    assert abs(fit.coefficients[1] - 0.3) < min(abs(halved - 0.3), abs(replaced - 0.3))
    assert lines.effective_draws > 100
    assert lines.level.shape == (100, 31)


def test_too_little_was_measured():
    response, clock, unit, _ = fleet(3, 3)
    side = np.full(9, -1)
    side[:2] = 0
    with pytest.raises(FitError, match="2 readings were measured"):
        fit_censored(response, clock, unit=unit, side=side, rng=np.random.default_rng(1))
