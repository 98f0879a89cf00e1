"""First passage of a drifted random walk against scipy's inverse Gaussian, and against walks that are simulated.

Source of the law: Schroedinger (1915), Phys. Z. 16, 289-295; Folks & Chhikara (1978), J. R. Stat. Soc. B 40, 263-289.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import invgauss

from draincurve.pipeline.deciding.first_passage import effective_variance, passage_days

POINTS = (0.1, 0.5, 0.9)
HOURS = np.array([0.5, 3.0, 10.0, 40.0, 200.0, 12.0])
DRIFT = np.array([1.0, 0.4, 2.0, 0.3, 1.5, 0.05])
VARIANCE = np.array([4.0, 1.0, 0.5, 2.0, 6.0, 3.0])


def test_points_agree_with_scipy():
    """scipy.stats.invgauss(mu, scale=shape) with mu = mean / shape, mean = L / r and shape = L^2 / v."""
    shape = HOURS**2 / VARIANCE
    mean = HOURS / DRIFT
    wanted = np.stack([invgauss.ppf(point, mean / shape, scale=shape) for point in POINTS], axis=1)
    np.testing.assert_allclose(passage_days(HOURS, DRIFT, VARIANCE, POINTS), wanted, rtol=1e-7)


@pytest.mark.parametrize(("left", "rate", "variance"), [(12.0, 1.0, 3.0), (30.0, 0.8, 1.0)])
def test_points_agree_with_simulated_walks(left, rate, variance):
    """Brute force: 4,000 walks in steps of a hundredth of a day, the first day over the hours left."""
    generator = np.random.default_rng(20260101)
    step, walks = 0.01, 4000
    at, passed = np.zeros(walks), np.full(walks, np.inf)
    for number in range(1, int(4 * left / rate / step)):
        at += rate * step + np.sqrt(variance * step) * generator.standard_normal(walks)
        passed = np.where((at >= left) & np.isinf(passed), number * step, passed)
    found = passage_days(np.array([left]), np.array([rate]), np.array([variance]), POINTS)[0]
    share = [(passed <= days).mean() for days in found]
    np.testing.assert_allclose(share, POINTS, atol=0.025)


def test_a_steady_walk_is_a_straight_line():
    found = passage_days(np.array([10.0]), np.array([2.0]), np.array([0.0]), POINTS)[0]
    np.testing.assert_allclose(found, 5.0, rtol=1e-3)


def test_the_uncertainty_of_the_rate_widens_as_a_rate_that_is_drawn_does():
    """Derived: at the mean passage the variance of hours is v t + Var(r) t^2; compared with rates that are drawn."""
    generator = np.random.default_rng(3)
    left, rate, rate_sd, variance = 30.0, 1.0, 0.15, 1.0
    rates = generator.normal(rate, rate_sd, 20000)
    shape = left**2 / variance
    drawn = invgauss.rvs(left / rates / shape, scale=shape, random_state=generator)
    total = effective_variance(np.array([left]), np.array([rate]), np.array([variance]), np.array([rate_sd**2]))
    found = passage_days(np.array([left]), np.array([rate]), total, POINTS)[0]
    np.testing.assert_allclose(found, np.quantile(drawn, POINTS), rtol=0.05)


def test_points_ascend_over_a_wide_range_of_walks():
    generator = np.random.default_rng(8)
    hours, drift, variance = (10.0 ** generator.uniform(-4, 4, 3000) for _ in range(3))
    days = passage_days(hours, drift, variance, POINTS)
    assert np.isfinite(days).all()
    assert (np.diff(days, axis=1) > 0).all()
    shape = hours**2 / variance
    chance = np.stack([invgauss.cdf(days[:, j], hours / drift / shape, scale=shape) for j in range(3)], axis=1)
    lumpy = (variance > 1e-8 * drift * hours) & np.isfinite(chance).all(axis=1)  # below, the walk is a straight line
    np.testing.assert_allclose(chance[lumpy], np.broadcast_to(POINTS, chance.shape)[lumpy], atol=1e-5)


def test_an_unsure_rate_counts_for_the_days_of_the_mean_passage() -> None:
    """12 h at 0.5 h/day are 24 days: 0.3 + 0.01 x 24."""
    hours, drift, by_day, by_rate = (np.array([value]) for value in (12.0, 0.5, 0.3, 0.01))
    assert effective_variance(hours, drift, by_day, by_rate) == pytest.approx([0.54])
