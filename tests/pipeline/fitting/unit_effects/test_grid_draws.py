from functools import partial

import numpy as np
import pytest
from exact_effects import exact_cdf
from invented_ratings import invented_log, likelihood_of
from scipy import stats

from draincurve.pipeline.fitting.links import LINKS
from draincurve.pipeline.fitting.thread_limits import one_thread
from draincurve.pipeline.fitting.unit_effects.grid_draws import draw_unit_effects

DRAWS = 8_000
SIZES = [1, 2, 3, 10, 60]


def cdf(likelihood, natural, unit):
    z, below = exact_cdf(likelihood, natural, unit)
    return partial(np.interp, xp=z, fp=below)


class EvenNumbers:
    """Stands in for a generator: numbers that fill 0 to 1 evenly, so that only the method's own error is left."""

    def uniform(self, size):
        return np.repeat(((np.arange(size[0]) + 0.5) / size[0])[:, None], size[1], axis=1)


@pytest.mark.parametrize("unit_sd", [0.3, 1.0, 3.0, 6.0])
@pytest.mark.parametrize("link", LINKS)
def test_quantiles_are_right_to_half_a_percent(link, unit_sd):
    likelihood, natural = likelihood_of(invented_log(SIZES, seed=7, unit_sd=unit_sd), link, 9)
    natural[-1] = unit_sd
    draws = draw_unit_effects(likelihood, np.tile(natural, (400, 1)), rng=EvenNumbers())
    level = (np.arange(400) + 0.5) / 400
    for unit in range(len(SIZES)):
        assert cdf(likelihood, natural, unit)(draws[:, unit]) == pytest.approx(level, abs=0.006)


@pytest.mark.parametrize("link", LINKS)
def test_effects_have_the_distribution_that_the_ratings_leave(link):
    likelihood, natural = likelihood_of(invented_log(SIZES, seed=7, unit_sd=1.0), link, 9)
    draws = draw_unit_effects(likelihood, np.tile(natural, (DRAWS, 1)), rng=np.random.default_rng(5))
    assert draws.shape == (DRAWS, len(SIZES))
    for unit in range(len(SIZES)):
        assert stats.kstest(draws[:, unit], cdf(likelihood, natural, unit)).pvalue > 1e-3


def test_units_of_which_only_one_end_was_seen():
    """All clean or all at the top: a skewed density with one long side."""
    for level in (1, 5):
        for size in (1, 4, 20):
            log = invented_log([size], seed=2, ranges=0.0)
            log.low[:] = log.high[:] = level
            likelihood, natural = likelihood_of(log, "logit", 9)
            natural[-1] = 2.0
            draws = draw_unit_effects(likelihood, np.tile(natural, (DRAWS, 1)), rng=np.random.default_rng(6))
            assert stats.kstest(draws[:, 0], cdf(likelihood, natural, 0)).pvalue > 1e-3


def test_each_draw_of_the_parameters_gets_its_own_effects():
    likelihood, natural = likelihood_of(invented_log([40], seed=3), "logit", 9)
    rows = np.tile(natural, (2000, 1))
    rows[1000:, 0:4] += 2.0
    draws = draw_unit_effects(likelihood, rows, rng=np.random.default_rng(1))[:, 0]
    assert draws[1000:].mean() > draws[:1000].mean() + 1.0
    again = draw_unit_effects(likelihood, rows, rng=np.random.default_rng(1))[:, 0]
    assert np.array_equal(draws, again)


def test_effects_have_the_same_bits_on_any_number_of_threads(all_threads):
    likelihood, natural = likelihood_of(invented_log(SIZES, seed=3), "logit", 9)
    rows = np.tile(natural, (200, 1))
    found = draw_unit_effects(likelihood, rows, rng=np.random.default_rng(1))
    with one_thread():
        alone = draw_unit_effects(likelihood, rows, rng=np.random.default_rng(1))
    assert np.array_equal(alone, found)


def test_no_spread_leaves_the_standard_normal():
    likelihood, natural = likelihood_of(invented_log([5], seed=3), "logit", 9)
    natural[-1] = 0.0
    draws = draw_unit_effects(likelihood, np.tile(natural, (DRAWS, 1)), rng=np.random.default_rng(2))
    assert stats.kstest(draws[:, 0], stats.norm.cdf).pvalue > 1e-3
