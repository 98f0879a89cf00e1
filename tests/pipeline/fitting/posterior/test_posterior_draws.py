from types import SimpleNamespace

import numpy as np
import pytest
from invented_ratings import invented_log

from draincurve.pipeline.fitting.posterior.posterior_draws import _importance_resampled, sample_posterior
from draincurve.pipeline.fitting.posterior.proposals import MultivariateT
from draincurve.pipeline.fitting.prior import Prior
from draincurve.pipeline.fitting.rating_model import fit_rating_model
from draincurve.schemas.errors import FitError
from draincurve.schemas.settings import Priors

PRIORS = Priors()
TINY = ([1, 1, 2, 1, 2, 2, 1, 2], np.log([4.0, 6, 9, 10, 14, 20, 12, 30]))


def test_with_much_data_the_posterior_is_the_gaussian_at_the_mode():
    log = invented_log([10] * 200, seed=3)
    fit = fit_rating_model(log.low, log.log_hours, log.design, log.units, prior=PRIORS, ratings_high=log.high)
    posterior = sample_posterior(fit, 4000, rng=np.random.default_rng(1))
    assert posterior.trusted
    assert posterior.method == "importance resampling"
    mode = fit.maximum.point.working
    sd = np.sqrt(np.diag(np.linalg.inv(-fit.maximum.hessian)))
    assert (posterior.draws.mean(axis=0) - mode) / sd == pytest.approx(np.zeros(mode.size), abs=0.2)
    assert posterior.draws.std(axis=0) / sd == pytest.approx(np.ones(mode.size), abs=0.12)
    correlation = np.corrcoef(posterior.draws.T)
    assert correlation == pytest.approx(np.linalg.inv(-fit.maximum.hessian) / np.outer(sd, sd), abs=0.12)


def test_two_parameters_against_integration_on_a_grid():
    """One cut and one slope, eight drains: far from Gaussian, and small enough to integrate outright."""
    fit = fit_rating_model(*TINY, None, None, prior=PRIORS)
    posterior = sample_posterior(fit, 20_000, rng=np.random.default_rng(2))
    assert posterior.trusted
    first, second = np.linspace(-9, 9, 361), np.linspace(-2.5, 3.5, 361)
    grid = np.stack(np.meshgrid(first, second, indexing="ij"), axis=-1).reshape(-1, 2)
    density = fit.objective.log_density(grid)
    weight = np.exp(density - density.max())
    weight /= weight.sum()
    mean = weight @ grid
    centred = grid - mean
    covariance = (centred * weight[:, None]).T @ centred
    sd = np.sqrt(np.diag(covariance))
    assert (posterior.draws.mean(axis=0) - mean) / sd == pytest.approx([0, 0], abs=0.04)
    assert np.cov(posterior.draws.T) / np.outer(sd, sd) == pytest.approx(covariance / np.outer(sd, sd), abs=0.06)
    for j, axis in enumerate((first, second)):
        marginal = np.bincount(np.searchsorted(axis, grid[:, j]), weights=weight)
        for level in (0.05, 0.5, 0.95):
            below = np.sum(marginal[axis <= np.quantile(posterior.draws[:, j], level)])
            assert below == pytest.approx(level, abs=0.02)


def test_pooled_levels_and_units_against_draws_from_the_prior():
    """Prior draws weighted by the likelihood, which shares nothing with the sampler but the density itself."""
    riders = np.array([0, 1, 2, 0, 1, 2, 0, 1, 2, 0, 1, 2])
    ratings = [1, 2, 2, 1, 3, 2, 2, 3, 3, 2, 3, 3]
    hours = np.log([4.0, 6, 5, 9, 10, 8, 14, 15, 13, 22, 25, 20])
    fit = fit_rating_model(
        ratings,
        hours,
        np.eye(3)[riders],
        np.array([0, 0, 1, 1, 2, 2] * 2),
        prior=PRIORS,
        pooled=[(0, 1, 2)],
    )
    posterior = sample_posterior(fit, 10_000, rng=np.random.default_rng(4), draws_per_round=20_000)
    assert posterior.trusted
    prior = fit.objective.prior
    rng = np.random.default_rng(6)
    draws = prior.mean + prior.sd * rng.standard_normal((200_000, prior.mean.size))
    half = prior.is_half_normal
    draws[:, half] = np.log(np.abs(rng.standard_normal((200_000, half.sum()))) * prior.half_normal[half])
    log_likelihood = fit.objective.likelihood.of_draws(fit.objective.layout.natural(draws))
    weight = np.exp(log_likelihood - log_likelihood.max())
    weight /= weight.sum()
    assert 1 / np.sum(weight**2) > 400
    layout = fit.objective.layout

    def natural(working):
        """What decisions rest on; the logs of small spreads have a long tail that matters to nothing."""
        return np.hstack((layout.natural(working), np.exp(working[:, layout.group_log_sds])))

    values, found = natural(draws), natural(posterior.draws)
    mean = weight @ values
    sd = np.sqrt(weight @ (values - mean) ** 2)
    assert (found.mean(axis=0) - mean) / sd == pytest.approx(np.zeros(mean.size), abs=0.12)
    assert found.std(axis=0) / sd == pytest.approx(np.ones(mean.size), abs=0.12)


def test_the_same_seed_gives_the_same_draws_and_another_seed_others():
    log = invented_log([4] * 10, seed=6)
    fit = fit_rating_model(log.low, log.log_hours, None, log.units, prior=PRIORS)
    draws = [sample_posterior(fit, 500, rng=np.random.default_rng(seed)).draws for seed in (1, 1, 2)]
    assert draws[0].tobytes() == draws[1].tobytes()
    assert not np.array_equal(draws[0], draws[2])
    assert draws[0].shape == (500, fit.objective.layout.size)
    assert np.all(np.isfinite(draws[0]))


@pytest.mark.parametrize(
    ("ratings", "units"),
    [
        ([3], ["a"]),
        ([1] * 12, list("aabbccddeeff")),
        ([5] * 12, ["a"] * 12),
        ([1] * 6 + [5] * 6, list("aaaaaabbbbbb")),
    ],
    ids=["one row", "all clean", "one unit, all past", "separated"],
)
def test_little_data_still_gets_trusted_draws(ratings, units):
    hours = np.log(np.linspace(5, 20, len(ratings)))
    fit = fit_rating_model(ratings, hours, None, units, prior=PRIORS, levels=5)
    posterior = sample_posterior(fit, 1000, rng=np.random.default_rng(3))
    assert posterior.trusted
    thresholds, columns, unit_sd = fit.natural_draws(posterior.draws)
    assert np.all(np.diff(thresholds, axis=1) > 0)
    assert np.all(columns[:, 0] > 0)
    assert np.all(unit_sd > 0)
    # The spread between units and the slope hardly move from their priors.
    assert posterior.draws[:, fit.objective.layout.hours_index].std() > 0.6 * PRIORS.hours_slope_log_sd


def test_no_draws_without_a_prior():
    fit = fit_rating_model(*TINY, None, None)
    with pytest.raises(FitError, match="has no posterior; fit with a prior"):
        sample_posterior(fit, 10, rng=np.random.default_rng(1))


def test_the_gaussian_at_the_mode():
    rng = np.random.default_rng(9)
    n = 50_000
    hours = np.log(rng.uniform(5, 30, n))
    ratings = 1 + (2 * (hours - np.log(12)) + rng.logistic(size=n) > 0)
    fit = fit_rating_model(ratings, hours, None, None, prior=PRIORS)
    posterior = sample_posterior(fit, 3000, rng=rng, normal=True)
    assert posterior.method == "gaussian at the mode"
    assert (posterior.pareto_shape, posterior.effective_sample_size, posterior.rounds) == (None, None, 0)
    thresholds, columns, _ = fit.natural_draws(posterior.draws)
    assert thresholds[:, 0].mean() == pytest.approx(fit.thresholds[0], abs=0.1 * fit.standard_errors[0])
    assert thresholds[:, 0].std() == pytest.approx(fit.standard_errors[0], rel=0.05)
    assert columns[:, 0].std() == pytest.approx(fit.standard_errors[1], rel=0.05)


class ManyCauchys:
    """Tails that any t with 7 degrees of freedom leaves far below: ratios have a Pareto shape of 6/7 and more."""

    layout = SimpleNamespace(size=80)

    def log_density(self, draws):
        return -np.sum(np.log1p(draws**2), axis=1)


def test_a_target_that_is_too_hard_is_said_to_be_so():
    first = MultivariateT(np.zeros(80), np.eye(80))
    prior = Prior(np.zeros(80), np.ones(80), np.full(80, np.nan))
    posterior = _importance_resampled(ManyCauchys(), first, count=300, rng=np.random.default_rng(1), prior=prior)
    assert not posterior.trusted
    assert posterior.rounds == 10
    assert posterior.draws.shape == (300, 80)
    assert posterior.pareto_shape > 0.7 or posterior.effective_sample_size < 400


def test_an_easy_target_takes_one_round():
    class Normal:
        layout = SimpleNamespace(size=3)

        def log_density(self, draws):
            return -0.5 * np.sum(draws**2, axis=1)

    first = MultivariateT(np.zeros(3), np.eye(3))
    prior = Prior(np.zeros(3), np.ones(3), np.full(3, np.nan))
    posterior = _importance_resampled(Normal(), first, count=8000, rng=np.random.default_rng(1), prior=prior)
    assert posterior.trusted
    assert posterior.rounds == 1
    assert np.cov(posterior.draws.T) == pytest.approx(np.eye(3), abs=0.1)
