"""Sums of log likelihood ratios, against dense integration over both effects' grids written out in full."""

import numpy as np
import pytest
from scipy.special import expit

from draincurve.pipeline.fitting.joint.plackett import joint_distribution
from draincurve.pipeline.fitting.likelihood import Likelihood, Ratings
from draincurve.pipeline.fitting.links import LINKS
from draincurve.pipeline.fitting.thread_limits import one_thread
from draincurve.pipeline.judging.changepoints.change_sums import LARGEST_STEP, WatchedModel, change_sums
from draincurve.pipeline.judging.changepoints.effect_grid import effect_grid, long_tailed_prior

CUTS = np.array([-2.0, -0.4, 1.1, 2.6])
PATTERNS = np.array([[True, True], [True, False], [False, True]])
WEIGHTS = np.full(3, 1 / 3)
SHIFT, ODDS_RATIO, UNIT_SDS = 1.1, 5.0, np.array([0.7, 1.2])
DRAINS = 12


def model_of(drains, *, link="logit", channels=2, seed=3, sds=UNIT_SDS):
    rng = np.random.default_rng(seed)
    scale = LINKS[link].scale
    bounds = np.concatenate(([-np.inf], CUTS * scale, [np.inf]))
    patterns = PATTERNS if channels == 2 else np.ones((1, 1), dtype=bool)
    return WatchedModel(
        LINKS[link].code,
        np.array([bounds] * channels),
        rng.normal(0.0, 1.0, (channels, drains)) * scale,
        sds[:channels] * scale,
        np.full(channels, SHIFT * scale),
        np.full(channels - 1, ODDS_RATIO),
        patterns,
    )


def ratings(drains, channels=2, seed=4):
    return np.random.default_rng(seed).integers(1, 6, (channels, 1, drains))


def sums_of(model, low, high=None, *, starts=None, restart=None, known=3):
    drains = low.shape[2]
    starts = np.array([0, drains]) if starts is None else starts
    place = np.arange(drains) - np.repeat(starts[:-1], np.diff(starts))
    restart = place == 0 if restart is None else restart
    counted = np.tile(place >= known, (low.shape[0], 1))
    grid = effect_grid(float(model.unit_sds.max()), 1.0, most_drains=drains)
    high = low if high is None else high
    return change_sums(model, starts, restart, counted, low, high, grid, long_tailed_prior(grid))


def written_out(model, low, known=3):
    """The same for one unit under the logit link, with arrays over a dense grid of each effect."""
    z = np.linspace(-14, 14, 4001)
    prior = (1 + z**2 / 3) ** -2
    own = [[prior / prior.sum()] * 2 for _ in range(2)]
    level, mixture, found = 0.0, WEIGHTS, []
    for i in range(low.shape[2]):
        margins, later = np.empty((2, 2, 2)), []
        for c in range(2):
            for changed in range(2):
                eta = model.fixed[c, i] + changed * SHIFT + model.unit_sds[c] * z
                above, below = (expit(model.bounds[c, low[c, 0, i] - side] - eta) for side in (0, 1))
                margins[changed, c] = own[c][changed] @ above, own[c][changed] @ below
                weight = own[c][changed] * (above - below)
                later.append(weight / weight.sum())
        own = [later[:2], later[2:]]
        cell = {pattern: _cell(margins[pattern[0], 0], margins[pattern[1], 1]) for pattern in np.ndindex(2, 2)}
        if i >= known:
            ratios = np.array([cell[1, 1], cell[1, 0], cell[0, 1]]) / cell[0, 0]
            level = max(0.0, level + min(np.log(mixture @ ratios), LARGEST_STEP))
            mixture = mixture * ratios / (mixture @ ratios)
        if level == 0.0:
            own, mixture = [[unchanged] * 2 for unchanged, _ in own], WEIGHTS
        found.append(level)
    return np.array(found)


def _cell(one, two):
    corners = [[joint_distribution(u, v, ODDS_RATIO) for v in two] for u in one]
    return corners[0][0] - corners[0][1] - corners[1][0] + corners[1][1]


def test_the_sums_are_those_of_the_written_out_likelihood_ratio():
    model, low = model_of(40), ratings(40)
    low[:, :, 20:30] = np.maximum(low[:, :, 20:30], 4)
    found, _ = sums_of(model, low)
    expected = written_out(model, low)
    assert expected.max() > 2.0
    assert np.sum(expected == 0.0) > 5
    np.testing.assert_allclose(found[0], expected, atol=2e-3)


@pytest.mark.parametrize("link", ["logit", "probit", "cloglog"])
def test_a_rise_is_the_ratio_of_two_marginal_likelihoods(link):
    """One channel: the sum since its last zero is the log likelihood with the shift less that without."""
    model, low = model_of(DRAINS, link=link, channels=1), np.full((1, 1, DRAINS), 3)
    low[0, 0, 6:] = 4
    found, _ = sums_of(model, low)
    begun = int(np.flatnonzero(found[0] == 0.0)[-1]) + 1
    assert np.all(np.diff(found[0, begun:]) < LARGEST_STEP)

    def log_likelihood(shift_from):
        base = model.fixed[0] + np.where(np.arange(DRAINS) >= shift_from, model.shifts[0], 0.0)
        data = Ratings(low[0, 0], low[0, 0], base[:, None], np.array([0, DRAINS]), 5, True)
        natural = np.concatenate((model.bounds[0, 1:-1], [1.0], model.unit_sds))
        return Likelihood(data, LINKS[link], nodes=25).value_and_gradient(natural)[0]

    expected = log_likelihood(begun) - log_likelihood(DRAINS)
    # Here the effect has long tails, there normal ones: after many drains that hardly matters.
    assert found[0, -1] == pytest.approx(expected, rel=0.1)


def test_a_channel_without_a_rating_says_nothing():
    model, low = model_of(DRAINS), ratings(DRAINS)
    low[1], high = 1, low.copy()
    high[1] = 5
    high[0] = low[0]
    alone = model._replace(
        bounds=model.bounds[:1], fixed=model.fixed[:1], unit_sds=model.unit_sds[:1], shifts=model.shifts[:1],
        odds_ratios=np.empty(0), patterns=np.array([[True], [True], [False]]),
    )  # fmt: skip
    grids = [effect_grid(float(one.unit_sds.max()), 1.0, most_drains=DRAINS) for one in (model, alone)]
    assert grids[0].size != grids[1].size
    np.testing.assert_allclose(sums_of(model, low, high)[0], sums_of(alone, low[:1])[0], atol=1e-3)


def test_the_likeliest_pattern_names_where_the_change_shows():
    model = model_of(DRAINS)._replace(fixed=np.zeros((2, DRAINS)))
    low = np.full((2, 3, DRAINS), 2)
    low[:, 0, 6:] = 5
    low[0, 1, 6:] = 5
    low[1, 2, 6:] = 5
    found, patterns = sums_of(model, low)
    assert np.all(found[:, -1] > 2.0)
    assert patterns[:, -1].tolist() == [0, 1, 2]


def test_no_single_drain_adds_more_than_the_largest_step():
    model = model_of(DRAINS)._replace(fixed=np.full((2, DRAINS), -2.0), shifts=np.full(2, 6.0))
    low = np.ones((2, 1, DRAINS), dtype=np.int64)
    low[:, :, -1] = 5
    assert sums_of(model, low)[0].max() == LARGEST_STEP


def test_a_restart_forgets_the_rise_and_keeps_what_is_known_of_the_unit():
    model, low = model_of(DRAINS), ratings(DRAINS)
    low[:, :, 4:9] = 5
    restart = np.isin(np.arange(DRAINS), (0, 8))
    with_restart, without = sums_of(model, low, restart=restart)[0], sums_of(model, low)[0]
    assert with_restart[0, 7] == without[0, 7] > 1.5
    assert 0.0 < with_restart[0, 8] < 0.5 < without[0, 8]
    anew = sums_of(model, low, starts=np.array([0, 8, DRAINS]), known=0)[0]
    assert with_restart[0, 8] != anew[0, 8]


def test_the_same_bits_on_any_number_of_threads(all_threads):
    model, low = model_of(60), ratings(60)
    found = sums_of(model, low, starts=np.arange(0, 61, 6))
    with one_thread():
        alone = sums_of(model, low, starts=np.arange(0, 61, 6))
    assert np.array_equal(alone[0], found[0])
