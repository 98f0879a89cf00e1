"""Effects laid out once against the exact density and against those laid out anew for every draw."""

import numpy as np
import pytest
from exact_effects import exact_cdf
from invented_ratings import invented_log, likelihood_of

from draincurve.pipeline.fitting.links import LINKS
from draincurve.pipeline.fitting.unit_effects.first_order_draws import first_order_effects
from draincurve.pipeline.fitting.unit_effects.grid_draws import draw_unit_effects

SIZES = [1, 2, 3, 10, 60, 25]


@pytest.mark.parametrize("link", LINKS)
def test_where_parameters_are_known_the_draws_fill_the_exact_density(link):
    likelihood, natural = likelihood_of(invented_log(SIZES, seed=7), link, 9)
    rng = np.random.default_rng(1)
    quick = first_order_effects(likelihood, np.tile(natural, (2000, 1)), units=np.arange(len(SIZES)), rng=rng)
    levels = (0.05, 0.25, 0.5, 0.75, 0.95)
    for unit in range(len(SIZES)):
        z, below = exact_cdf(likelihood, natural, unit)
        assert np.quantile(quick[:, unit], levels) == pytest.approx(np.interp(levels, below, z), abs=0.03)


def test_effects_move_with_the_parameters_as_those_laid_out_anew():
    likelihood, natural = likelihood_of(invented_log(SIZES, seed=7), "logit", 9)
    rng = np.random.default_rng(2)
    draws = natural + 0.05 * rng.standard_normal((4000, natural.size))
    draws[:, :4] = np.sort(draws[:, :4], axis=1)
    quick = first_order_effects(likelihood, draws, units=np.arange(len(SIZES)), rng=rng)
    exact = draw_unit_effects(likelihood, draws, rng=rng)
    assert quick.mean(axis=0) == pytest.approx(exact.mean(axis=0), abs=0.06)
    assert quick.std(axis=0) == pytest.approx(exact.std(axis=0), rel=0.06)
    for unit in (3, 4, 5):
        for column in range(natural.size):
            together = [np.corrcoef(found[:, unit], draws[:, column])[0, 1] for found in (quick, exact)]
            assert together[0] == pytest.approx(together[1], abs=0.07)


def test_units_asked_for_stand_in_the_order_asked():
    likelihood, natural = likelihood_of(invented_log(SIZES, seed=7), "logit", 9)
    draws = np.tile(natural, (500, 1))
    found = first_order_effects(likelihood, draws, units=np.array([4, 0]), rng=np.random.default_rng(3))
    assert found.shape == (500, 2)
    assert found[:, 0].std() < 0.5 < found[:, 1].std()
