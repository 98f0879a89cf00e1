from types import SimpleNamespace

import numpy as np
import pytest
from scipy import integrate

from draincurve.pipeline.fitting.posterior.posterior_draws import _importance_resampled
from draincurve.pipeline.fitting.posterior.proposals import MultivariateT
from draincurve.pipeline.fitting.posterior.tail_proposals import TailProposal, refitted_proposals
from draincurve.pipeline.fitting.prior import Prior


def normal_prior(size: int) -> Prior:
    """A prior without standard deviations, so without tails."""
    return Prior(np.zeros(size), np.ones(size), np.full(size, np.nan))


def tail_proposal() -> TailProposal:
    return TailProposal(1, 0.5, MultivariateT(np.array([2.0]), np.array([[0.7]])))


def test_the_density_of_a_tail_proposal_integrates_to_one():
    def density(x: float, y: float) -> float:
        return float(np.exp(tail_proposal().log_density(np.array([[x, y]]))[0]))

    total, _ = integrate.dblquad(density, -12, 2, -15, 19, epsabs=1e-4)
    assert total == pytest.approx(1.0, abs=2e-3)


def test_draws_of_a_tail_proposal_have_the_priors_standard_deviation():
    draws = tail_proposal().draw(40_000, np.random.default_rng(1))
    assert np.exp(draws[:, 1]).mean() == pytest.approx(0.5 * np.sqrt(2 / np.pi), rel=0.02)
    assert np.median(draws[:, 0]) == pytest.approx(2.0, abs=0.02)
    assert abs(np.corrcoef(draws.T)[0, 1]) < 0.02


def test_a_refit_has_the_weighted_mean_and_a_tail_for_each_standard_deviation():
    rng = np.random.default_rng(2)
    draws = rng.standard_normal((5000, 3))
    weights = np.exp(0.5 * draws[:, 0])
    weights /= weights.sum()
    prior = Prior(np.zeros(3), np.ones(3), np.array([np.nan, 0.5, 1.0]))
    (whole, most), (second, share), (third, _) = refitted_proposals(draws, weights, prior=prior)
    assert most == pytest.approx(1 - 2 * share)
    assert whole.centre == pytest.approx([0.5, 0, 0], abs=0.06)
    assert (second.index, second.scale, third.index, third.scale) == (1, 0.5, 2, 1.0)
    assert second.rest.centre == pytest.approx([0.5, 0], abs=0.08)
    assert [share for _, share in refitted_proposals(draws, weights, prior=normal_prior(3))] == [1.0]


def test_standard_deviations_without_any_data_take_two_rounds_at_most():
    """The prior itself as the target, from a start too narrow for its tails; without the tails it takes more."""
    prior = Prior(np.zeros(6), np.ones(6), np.array([np.nan, np.nan, 1.0, 1.0, 1.0, 1.0]))
    target = SimpleNamespace(layout=SimpleNamespace(size=6), log_density=prior.log_density)
    first = MultivariateT(np.zeros(6), np.diag([1.0, 1.0, 0.5, 0.5, 0.5, 0.5]))

    def rounds(tails: Prior) -> list[int]:
        runs = [
            _importance_resampled(target, first, count=500, rng=np.random.default_rng(seed), prior=tails)
            for seed in range(8)
        ]
        assert all(run.trusted for run in runs)
        return [run.rounds for run in runs]

    assert max(rounds(prior)) <= 2 < max(rounds(normal_prior(6)))
