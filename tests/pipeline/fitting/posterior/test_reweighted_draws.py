"""Draws of one log that serve another which differs in a few rows, against draws made for that log alone."""

from dataclasses import replace

import numpy as np
import pytest
from invented_ratings import invented_log

from draincurve.pipeline.fitting.posterior.posterior_draws import sample_posterior
from draincurve.pipeline.fitting.posterior.reweighted_draws import reweighted_posterior
from draincurve.pipeline.fitting.rating_model import fit_rating_model
from draincurve.schemas.settings import Priors

DRAWS = 1000


def fitted(log):
    return fit_rating_model(log.low, log.log_hours, log.design, log.units, prior=Priors(), ratings_high=log.high)


def without(log, rows):
    kept = np.setdiff1d(np.arange(log.low.size), rows)
    return replace(
        log, **{name: getattr(log, name)[kept] for name in ("low", "high", "log_hours", "design", "units")}
    )


@pytest.fixture(scope="module")
def whole():
    return invented_log([12] * 12, seed=5)


@pytest.fixture(scope="module")
def known(whole):
    """A fit without eight rows, all of them of two units, and its draws."""
    fit = fitted(without(whole, np.r_[0:4, 12:16]))
    return fit, sample_posterior(fit, DRAWS, rng=np.random.default_rng(1))


def test_reweighted_draws_have_the_moments_of_draws_made_for_the_log(whole, known):
    fit, (near, posterior) = fitted(whole), known
    found = reweighted_posterior(fit, posterior, moved=near.centres - fit.centres, rng=np.random.default_rng(2))
    exact = sample_posterior(fit, 4 * DRAWS, rng=np.random.default_rng(3), draws_per_round=20_000)
    assert found is not None
    sd = exact.draws.std(axis=0)
    before, after = ((one.draws.mean(axis=0) - exact.draws.mean(axis=0)) / sd for one in (posterior, found))
    assert after == pytest.approx(np.zeros(sd.size), abs=0.13)
    assert np.abs(before).max() > 0.2  # the rows matter, so that unweighted draws would not do
    assert found.draws.std(axis=0) / sd == pytest.approx(np.ones(sd.size), abs=0.1)
    assert found.log_density == pytest.approx(fit.objective.log_density(found.draws), abs=1e-6)


def test_most_draws_keep_their_place(whole, known):
    fit, (near, posterior) = fitted(whole), known
    found = reweighted_posterior(fit, posterior, moved=near.centres - fit.centres, rng=np.random.default_rng(2))
    kept = (found.draws[:, 1:] == posterior.draws[:, 1:]).all(axis=1)
    share = found.effective_sample_size / DRAWS
    assert kept.mean() > 0.5 * share


def test_another_centre_of_the_design_changes_no_draw_but_the_first_threshold(whole, known):
    near, posterior = known
    log = without(whole, np.r_[0:4, 12:16])
    fit = fitted(replace(log, design=log.design + 3.0))
    moved = near.centres - fit.centres + np.r_[0.0, 3.0, 3.0]
    found = reweighted_posterior(fit, posterior, moved=moved, rng=np.random.default_rng(2))
    assert found.effective_sample_size == pytest.approx(DRAWS)
    (cuts, columns, sds), (other_cuts, other_columns, other_sds) = (
        one.natural_draws(draws) for one, draws in ((near, posterior.draws), (fit, found.draws))
    )
    np.testing.assert_allclose(other_columns, columns, rtol=1e-12)
    np.testing.assert_allclose(other_sds, sds, rtol=1e-12)
    further = columns[:, 1:].sum(axis=1, keepdims=True) * 3.0
    np.testing.assert_allclose(other_cuts, cuts + further, rtol=1e-9)


def test_draws_too_far_away_are_refused(whole, known):
    turned = replace(whole, low=6 - whole.high, high=6 - whole.low)
    near, posterior = known
    fit = fitted(turned)
    assert (
        reweighted_posterior(fit, posterior, moved=near.centres - fit.centres, rng=np.random.default_rng(2)) is None
    )


def test_a_gaussian_has_no_densities_to_weight_by(whole, known):
    normal = sample_posterior(known[0], DRAWS, rng=np.random.default_rng(4), normal=True)
    moved = np.zeros_like(known[0].centres)
    assert reweighted_posterior(fitted(whole), normal, moved=moved, rng=np.random.default_rng(2)) is None
