import numpy as np
import pytest
from scipy import stats

from draincurve.pipeline.fitting.posterior.pareto_smoothing import fit_generalised_pareto, pareto_smoothed


@pytest.mark.parametrize("shape", [-0.3, 0.2, 0.5, 0.9])
def test_shape_and_scale_of_a_generalised_pareto_are_recovered(shape):
    rng = np.random.default_rng(11)
    found = []
    for _ in range(20):
        excess = np.sort(stats.genpareto.rvs(shape, scale=2.0, size=2000, random_state=rng))
        found.append(fit_generalised_pareto(excess))
    # The weak prior adds (0.5 - shape) x 10 / (n + 10); twenty fits leave a noise of about 0.006.
    pulled = (2000 * shape + 5) / 2010
    assert np.mean(found, axis=0) == pytest.approx([pulled, 2.0], abs=0.05)


def ratios(proposal_sd, draws=4000, seed=5):
    rng = np.random.default_rng(seed)
    x = rng.normal(scale=proposal_sd, size=draws)
    return x, stats.norm.logpdf(x) - stats.norm.logpdf(x, scale=proposal_sd)


def test_a_proposal_that_is_too_narrow_is_found_out():
    """Ratios of N(0, 1) to N(0, s^2) have a tail of shape 1 - s^2."""
    _, logs = ratios(0.3)
    assert pareto_smoothed(logs).shape > 0.7


def test_a_wide_proposal_is_good_and_its_weights_are_right():
    x, logs = ratios(1.5)
    smoothed = pareto_smoothed(logs)
    assert smoothed.shape < 0.5
    assert smoothed.effective_sample_size > 2000
    assert smoothed.weights.sum() == pytest.approx(1.0)
    assert smoothed.weights @ x**2 == pytest.approx(1.0, abs=0.06)


@pytest.mark.parametrize("sd", [0.3, 0.7, 1.5])
def test_smoothing_keeps_the_order_and_leaves_the_rest_alone(sd):
    _, logs = ratios(sd)
    weights = pareto_smoothed(logs).weights
    order = np.argsort(logs, kind="stable")
    assert np.all(np.diff(weights[order]) >= -1e-18)
    body = order[: int(logs.size * 0.8) - 1]
    assert np.log(weights[body]) - np.log(weights[body[0]]) == pytest.approx(logs[body] - logs[body[0]], abs=1e-9)
    assert weights[logs.argmax()] == weights.max()


def test_a_constant_in_the_ratios_changes_nothing():
    _, logs = ratios(0.7)
    assert pareto_smoothed(logs + 300.0).weights == pytest.approx(pareto_smoothed(logs).weights)
    assert pareto_smoothed(logs - 1e4).shape == pytest.approx(pareto_smoothed(logs).shape)


def test_draws_that_cannot_be_weigh_nothing():
    _, logs = ratios(1.2)
    logs[:50] = -np.inf
    smoothed = pareto_smoothed(logs)
    assert np.all(smoothed.weights[:50] == 0)
    assert np.isfinite(smoothed.shape)


def test_one_draw_that_outweighs_all_is_not_trusted():
    logs = np.zeros(2000)
    logs[7] = 40.0
    smoothed = pareto_smoothed(logs)
    assert smoothed.shape > 0.7
