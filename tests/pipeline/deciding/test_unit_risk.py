from __future__ import annotations

import numpy as np
import pytest
from fleet_frames import sure_curves
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from draincurve.pipeline.deciding.unit_risk import (
    FARTHEST_H,
    SHORTEST_H,
    RiskCurves,
    hours_points,
    risk_and_growth,
    risk_at,
    risk_interval,
)
from draincurve.pipeline.fitting.links import LINKS, link_named
from draincurve.schemas.errors import ContractError

links = st.sampled_from(sorted(LINKS))


def drawn_curves(link: str, seed: int, units: int = 4, draws: int = 60) -> RiskCurves:
    generator = np.random.default_rng(seed)
    slope = np.exp(generator.normal(0.7, 0.4, draws))
    return RiskCurves(generator.normal(6, 1, (units, 1)) + generator.normal(0, 1, (units, draws)), slope, link)


@given(links, st.integers(0, 500), st.floats(0.01, 0.8))
def test_the_risk_interval_is_where_the_predictive_risk_meets_the_accepted_one(link, seed, accepted):
    curves = drawn_curves(link, seed)
    hours = risk_interval(curves, accepted)
    inside = (hours > SHORTEST_H * 1.001) & (hours < FARTHEST_H * 0.999)
    np.testing.assert_allclose(risk_at(curves, hours)[inside], accepted, rtol=1e-8)


@pytest.mark.parametrize("link", sorted(LINKS))
def test_it_agrees_with_a_root_search_by_scipy(link):
    curves = drawn_curves(link, 7)
    found = risk_interval(curves, 0.1)
    shape = link_named(link)
    for row in range(curves.units):

        def over(hours, row=row):
            return float(1 - shape.cdf(curves.threshold[row] - curves.slope * np.log(hours)).mean()) - 0.1

        assert found[row] == pytest.approx(brentq(over, 1e-3, 1e5, xtol=1e-10), rel=1e-8)


def test_one_draw_has_the_closed_form_and_points_are_quantiles_over_draws():
    curves = sure_curves([8.0, 21.0], spread=0.0)
    np.testing.assert_allclose(risk_interval(curves, 0.10), [8.0, 21.0], rtol=1e-10)
    np.testing.assert_allclose(hours_points(curves, 0.10), [[8.0, 8.0], [21.0, 21.0]], rtol=1e-10)
    wide = drawn_curves("probit", 3, units=2, draws=400)
    by_draw = np.exp((wide.threshold - link_named("probit").quantile(0.9)) / wide.slope)
    np.testing.assert_allclose(hours_points(wide, 0.1), np.quantile(by_draw, (0.05, 0.95), axis=1).T, rtol=1e-3)


def test_uncertain_curves_give_fewer_hours_than_their_median():
    """Averaging the risk over draws is more cautious than the risk of the middle draw, under a half."""
    assert risk_interval(sure_curves([10.0], spread=2.0, draws=201), 0.10)[0] < 10.0


def test_growth_is_the_derivative_of_the_risk():
    curves = drawn_curves("cloglog", 11)
    rows, at, step = np.arange(4), np.log(np.array([5.0, 10.0, 20.0, 3.0])), 1e-6
    growth = risk_and_growth(curves, rows, at)[1]
    difference = (risk_and_growth(curves, rows, at + step)[0] - risk_and_growth(curves, rows, at - step)[0]) / (
        2 * step
    )
    np.testing.assert_allclose(growth, difference, rtol=1e-6)


def test_zero_hours_carry_no_risk_and_unknown_hours_stay_unknown():
    risk = risk_at(sure_curves([10.0, 10.0, 10.0]), np.array([0.0, np.nan, 10.0]))
    assert risk[0] == 0.0
    assert np.isnan(risk[1])
    assert risk[2] == pytest.approx(0.1)


def test_hours_beyond_all_sense_are_held_to_the_ends():
    far = RiskCurves(np.full((1, 3), 900.0), np.full(3, 0.5), "logit")
    near = RiskCurves(np.full((1, 3), -900.0), np.full(3, 0.5), "logit")
    assert risk_interval(far, 0.1)[0] == pytest.approx(FARTHEST_H)
    assert hours_points(far, 0.1)[0, 1] == pytest.approx(FARTHEST_H)
    assert risk_interval(near, 0.1)[0] == pytest.approx(SHORTEST_H)


@pytest.mark.parametrize(
    ("cut", "slope", "said"),
    [
        (np.zeros((2, 3)), np.ones(4), "expected \\(units, draws\\)"),
        (np.full((2, 3), np.nan), np.ones(3), "must be finite"),
        (np.zeros((2, 3)), np.array([1.0, 0.0, 1.0]), "over zero"),
    ],
)
def test_curves_that_mean_nothing_are_refused(cut, slope, said):
    with pytest.raises(ContractError, match=said):
        RiskCurves(cut, slope, "logit")
