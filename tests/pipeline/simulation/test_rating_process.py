import numpy as np
import pytest
from scipy import stats

from draincurve.pipeline.simulation.rating_process import (
    draw_noise,
    drawn_ratings,
    hours_at_risk,
    link_quantile,
    mean_freshness,
    simulate_unit_effects,
)

THRESHOLDS = (-1.5, -0.2, 0.9, 2.0)
# P(rating >= k) for each link, written out apart from the code under test (McCullagh, 1980).
AT_OR_OVER = {
    "logit": lambda x: 1 / (1 + np.exp(-x)),
    "probit": stats.norm.cdf,
    "cloglog": lambda x: 1 - np.exp(-np.exp(x)),
}


@pytest.mark.parametrize("link", AT_OR_OVER)
@pytest.mark.parametrize("eta", [-1.0, 0.3, 1.6])
def test_ratings_follow_the_link(link, eta):
    rng = np.random.default_rng(41)
    n = 20_000
    ratings = drawn_ratings(np.full(n, eta), draw_noise(link, (n,), rng=rng), thresholds=THRESHOLDS)
    over = np.array([1.0, *(AT_OR_OVER[link](eta - threshold) for threshold in THRESHOLDS), 0.0])
    expected = n * (over[:-1] - over[1:])
    counted = np.bincount(ratings, minlength=6)[1:]
    assert stats.chisquare(counted, expected).pvalue > 0.001


@pytest.mark.parametrize("link", AT_OR_OVER)
def test_the_quantile_of_a_risk(link):
    for risk in (0.01, 0.1, 0.5):
        assert AT_OR_OVER[link](link_quantile(link, risk)) == pytest.approx(risk)


@pytest.mark.parametrize("link", AT_OR_OVER)
def test_hours_at_risk_carry_that_risk(link):
    rest = np.array([-0.5, 0.0, 0.8])
    hours = hours_at_risk(link, 0.1, threshold=6.0, hours_slope=2.2, rest=rest)
    assert AT_OR_OVER[link](2.2 * np.log(hours) + rest - 6.0) == pytest.approx(0.1)
    assert (np.diff(hours) < 0).all()


def test_more_hours_never_rate_cleaner_with_the_same_noise():
    rng = np.random.default_rng(5)
    noise = draw_noise("logit", (500,), rng=rng)
    hours = np.linspace(1, 60, 40)
    ratings = np.stack(
        [drawn_ratings(2.0 * np.log(h) + np.zeros(500) - 5, noise, thresholds=THRESHOLDS) for h in hours]
    )
    assert (np.diff(ratings, axis=0) >= 0).all()
    assert ratings[0].mean() + 2 < ratings[-1].mean()


def test_freshness_is_the_mean_over_the_fill():
    for start, hours in [(0.0, 12.0), (3.0, 4.5), (40.0, 10.0)]:
        middles = start + (np.arange(100_000) + 0.5) * hours / 100_000
        mean = mean_freshness(np.array([start + hours]), np.array([hours]))
        assert mean == pytest.approx(np.exp(-middles / 5).mean(), rel=1e-6)


def test_a_spring_younger_than_the_fill_counts_from_new():
    assert mean_freshness(np.array([4.0]), np.array([10.0])) == pytest.approx(
        mean_freshness(np.array([4.0]), np.array([4.0]))
    )


def test_unit_effects_have_the_moments_asked_for():
    rng = np.random.default_rng(9)
    machine = np.repeat(np.arange(20_000), 2)
    effects = simulate_unit_effects(machine, 2, channel_correlation=0.5, pair_correlation=0.3, tail_df=None, rng=rng)
    assert effects.std(axis=1) == pytest.approx([1, 1], abs=0.02)
    assert np.corrcoef(effects)[0, 1] == pytest.approx(0.5, abs=0.02)
    for channel in effects:
        assert np.corrcoef(channel[::2], channel[1::2])[0, 1] == pytest.approx(0.3, abs=0.03)


def test_heavy_tails_keep_the_standard_deviation_and_go_further():
    machine = np.arange(200_000)
    normal = simulate_unit_effects(
        machine, 1, channel_correlation=0.0, pair_correlation=0.0, tail_df=None, rng=np.random.default_rng(1)
    )[0]
    heavy = simulate_unit_effects(
        machine, 1, channel_correlation=0.0, pair_correlation=0.0, tail_df=5.0, rng=np.random.default_rng(1)
    )[0]
    assert heavy.std() == pytest.approx(1, abs=0.03)
    # Student's t on 5 degrees, scaled to variance 1, has kurtosis 9; a normal has 3.
    assert (np.abs(heavy) > 4).mean() == pytest.approx(2 * stats.t.sf(4 * np.sqrt(5 / 3), 5), rel=0.15)
    assert (np.abs(normal) > 4).mean() < 0.0005
