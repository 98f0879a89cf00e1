"""Sequential prediction within a unit, against the marginal likelihood and against dense integration."""

import numpy as np
import pytest
from scipy.special import ndtri

from draincurve.pipeline.fitting.likelihood import Likelihood, Ratings
from draincurve.pipeline.fitting.links import LINKS
from draincurve.pipeline.fitting.thread_limits import one_thread
from draincurve.pipeline.judging.changepoints.logit_predictive_probabilities import (
    logit_predictive_probabilities,
    without_overflow,
)
from draincurve.pipeline.judging.changepoints.predictive_probabilities import (
    effect_grid,
    long_tailed_prior,
    predictive_probabilities,
)

CUTS = np.array([-2.0, -0.4, 1.1, 2.6])


def normal_prior(grid):
    """Weights of the grid under the model's own prior."""
    weight = np.exp(-0.5 * grid**2)
    return weight / weight.sum()


def one_unit(drains, link, spread, seed=3):
    rng = np.random.default_rng(seed)
    scale = LINKS[link].scale
    base = rng.normal(0.0, 1.5, drains) * scale
    seen = base + spread * rng.standard_normal() + LINKS[link].quantile(rng.uniform(size=drains))
    ratings = (1 + np.searchsorted(CUTS * scale, seen)).astype(np.int64)
    data = Ratings(ratings, ratings, base[:, None], np.array([0, drains]), 5, True)
    natural = np.concatenate((CUTS * scale, [1.0], [spread]))
    return Likelihood(data, LINKS[link], nodes=25), natural


@pytest.mark.parametrize("link", ["logit", "probit", "cloglog"])
@pytest.mark.parametrize(("drains", "spread"), [(1, 0.5), (3, 2.0), (100, 1.0), (1000, 0.3)])
def test_chances_multiply_to_the_marginal_likelihood(link, drains, spread):
    likelihood, natural = one_unit(drains, link, spread)
    unit = likelihood.drains(natural)
    grid = effect_grid(spread, likelihood.link.scale, most_drains=drains)
    starts, low, high = likelihood.ratings.starts, unit.low[None], unit.high[None]
    _, within = predictive_probabilities(unit, starts, low, high, grid, normal_prior(grid))
    expected = likelihood.value_and_gradient(natural)[0]
    assert np.log(within).sum() == pytest.approx(expected, abs=2e-5 * max(1.0, abs(expected)))


def test_each_drain_is_predicted_from_those_before_it_and_no_others():
    likelihood, natural = one_unit(6, "logit", 1.2)
    unit = likelihood.drains(natural)
    low, high = unit.low.copy(), unit.low.copy()
    low[2], high[2] = 2, 4
    grid = effect_grid(1.2, 1.0, most_drains=6)
    starts, prior = likelihood.ratings.starts, long_tailed_prior(grid)
    below, within = predictive_probabilities(unit, starts, low[None], high[None], grid, prior)
    z = np.linspace(-14, 14, 8001)
    weight = (1 + z**2 / 3) ** -2
    for i in range(6):
        eta = unit.fixed[i] + 1.2 * z
        under = LINKS["logit"].cdf(unit.bounds[low[i] - 1] - eta)
        own = LINKS["logit"].cdf(unit.bounds[high[i]] - eta) - under
        assert below[0, i] == pytest.approx(np.sum(weight * under) / np.sum(weight), abs=2e-4)
        assert within[0, i] == pytest.approx(np.sum(weight * own) / np.sum(weight), abs=2e-4)
        weight = weight * own


def test_predictions_have_the_same_bits_on_any_number_of_threads(all_threads):
    likelihood, natural = one_unit(60, "logit", 0.8)
    unit = likelihood.drains(natural)
    grid = effect_grid(0.8, 1.0, most_drains=3)
    asked = unit, np.arange(0, 61, 3), unit.low[None], unit.high[None], grid, long_tailed_prior(grid)
    found = predictive_probabilities(*asked)
    with one_thread():
        alone = predictive_probabilities(*asked)
    assert np.array_equal(alone, found)


def test_mid_distribution_places_average_one_half_and_units_begin_anew():
    likelihood, natural = one_unit(4, "logit", 0.8)
    unit = likelihood.drains(natural)
    ratings = np.tile(np.arange(1, 6)[:, None], (1, 4)).astype(np.int64)
    starts = np.array([0, 1, 2, 3, 4])
    grid = effect_grid(0.8, 1.0, most_drains=1)
    below, within = predictive_probabilities(unit, starts, ratings, ratings, grid, long_tailed_prior(grid))
    np.testing.assert_allclose(within.sum(axis=0), 1.0, rtol=1e-12)
    np.testing.assert_allclose((within * (below + within / 2)).sum(axis=0), 0.5, rtol=1e-12)
    assert np.all(np.isfinite(ndtri(below + within / 2)))


def test_the_quick_way_of_a_large_log_gives_the_same_chances():
    likelihood, natural = one_unit(60, "logit", 1.2)
    unit = likelihood.drains(natural)
    grid = effect_grid(1.2, 1.0, most_drains=30)
    starts = np.array([0, 1, 13, 30, 60])
    low = np.vstack((unit.low, np.maximum(unit.low - 1, 1)))
    high = np.vstack((unit.low, np.minimum(unit.low + 1, 5)))
    slow = predictive_probabilities(unit, starts, low, high, grid, long_tailed_prior(grid))
    quick = logit_predictive_probabilities(unit, starts, low, high, grid, long_tailed_prior(grid))
    assert quick[0] == pytest.approx(slow[0], rel=1e-11, abs=1e-14)
    assert quick[1] == pytest.approx(slow[1], rel=1e-11)


def test_the_quick_way_is_for_the_logit_link_within_reach_of_exponentials():
    for link, spread, quick in (("logit", 1.2, True), ("probit", 1.2, False), ("logit", 60.0, False)):
        likelihood, natural = one_unit(5, link, spread)
        assert without_overflow(likelihood.drains(natural), effect_grid(spread, 1.0, most_drains=5)) is quick
