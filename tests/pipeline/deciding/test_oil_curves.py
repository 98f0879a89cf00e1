from __future__ import annotations

import numpy as np
import pytest
from fleet_frames import sure_curves
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from draincurve.pipeline.deciding.oil_curves import (
    OilCurves,
    both_risks,
    channel_risks,
    hours_points,
    log_hours_bounds,
    log_hours_by_draw,
    risk_and_growth,
    risk_at,
    risk_interval,
)
from draincurve.pipeline.deciding.unit_risk import FARTHEST_H, SHORTEST_H, RiskCurves
from draincurve.pipeline.fitting.links import LINKS, link_named
from draincurve.schemas.errors import ContractError

links = st.sampled_from(sorted(LINKS))


def drawn(link: str, seed: int, units: int = 4, draws: int = 60) -> RiskCurves:
    generator = np.random.default_rng(seed)
    slope = np.exp(generator.normal(0.7, 0.4, draws))
    return RiskCurves(generator.normal(6, 1, (units, 1)) + generator.normal(0, 1, (units, draws)), slope, link)


def alone(curve: RiskCurves) -> OilCurves:
    return OilCurves({"debris": curve})


def drawn_curves(link: str, seed: int, units: int = 4, draws: int = 60) -> OilCurves:
    return alone(drawn(link, seed, units, draws))


def drawn_pair(link: str, seed: int, log_odds: float | None, units: int = 4, draws: int = 60) -> OilCurves:
    generator = np.random.default_rng([seed, 1])
    odds = None if log_odds is None else log_odds + generator.normal(0, 0.3, draws)
    return OilCurves({"colour": drawn(link, seed, units, draws), "debris": drawn(link, seed + 1, units, draws)}, odds)


@given(links, st.integers(0, 500), st.floats(0.01, 0.8))
def test_the_risk_interval_is_where_the_predictive_risk_meets_the_accepted_one(link, seed, accepted):
    curves = drawn_curves(link, seed)
    hours = risk_interval(curves, accepted)
    inside = (hours > SHORTEST_H * 1.001) & (hours < FARTHEST_H * 0.999)
    np.testing.assert_allclose(risk_at(curves, hours)[inside], accepted, rtol=1e-8)


@pytest.mark.parametrize("link", sorted(LINKS))
def test_it_agrees_with_a_root_search_by_scipy(link):
    curve = drawn(link, 7)
    found = risk_interval(alone(curve), 0.1)
    shape = link_named(link)
    for row in range(curve.units):

        def over(hours, row=row):
            return float(1 - shape.cdf(curve.threshold[row] - curve.slope * np.log(hours)).mean()) - 0.1

        assert found[row] == pytest.approx(brentq(over, 1e-3, 1e5, xtol=1e-10), rel=1e-8)


def test_one_draw_has_the_closed_form_and_points_are_quantiles_over_draws():
    curves = alone(sure_curves([8.0, 21.0], spread=0.0))
    np.testing.assert_allclose(risk_interval(curves, 0.10), [8.0, 21.0], rtol=1e-10)
    np.testing.assert_allclose(hours_points(curves, 0.10), [[8.0, 8.0], [21.0, 21.0]], rtol=1e-10)
    wide = drawn("probit", 3, units=2, draws=400)
    by_draw = np.exp((wide.threshold - link_named("probit").quantile(0.9)) / wide.slope)
    np.testing.assert_allclose(
        hours_points(alone(wide), 0.1), np.quantile(by_draw, (0.05, 0.95), axis=1).T, rtol=1e-3
    )


def test_uncertain_curves_give_fewer_hours_than_their_median():
    """Averaging the risk over draws is more cautious than the risk of the middle draw, under a half."""
    assert risk_interval(alone(sure_curves([10.0], spread=2.0, draws=201)), 0.10)[0] < 10.0


@pytest.mark.parametrize("log_odds", [None, 0.0, 2.0, -1.5])
def test_growth_is_the_derivative_of_the_risk(log_odds):
    curves = drawn_pair("cloglog", 11, log_odds)
    rows, at, step = np.arange(4), np.log(np.array([5.0, 10.0, 20.0, 3.0])), 1e-6
    growth = risk_and_growth(curves, rows, at)[1]
    difference = (risk_and_growth(curves, rows, at + step)[0] - risk_and_growth(curves, rows, at - step)[0]) / (
        2 * step
    )
    np.testing.assert_allclose(growth, difference, rtol=1e-6)


def test_zero_hours_carry_no_risk_and_unknown_hours_stay_unknown():
    risk = risk_at(alone(sure_curves([10.0, 10.0, 10.0])), np.array([0.0, np.nan, 10.0]))
    assert risk[0] == 0.0
    assert np.isnan(risk[1])
    assert risk[2] == pytest.approx(0.1)


def test_hours_beyond_all_sense_are_held_to_the_ends():
    far = alone(RiskCurves(np.full((1, 3), 900.0), np.full(3, 0.5), "logit"))
    near = alone(RiskCurves(np.full((1, 3), -900.0), np.full(3, 0.5), "logit"))
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


@given(links, st.integers(0, 200), st.sampled_from([None, 0.0, 1e-9, 2.1, -1.0]), st.floats(0.01, 0.5))
def test_the_oils_hours_lie_between_booles_bound_and_the_shorter_channels(link, seed, log_odds, accepted):
    curves = drawn_pair(link, seed, log_odds)
    low, high = log_hours_bounds(curves, accepted)
    found = log_hours_by_draw(curves, accepted)
    assert (found >= low - 1e-9).all()
    assert (found <= high + 1e-9).all()
    hours = risk_interval(curves, accepted)
    inside = (hours > SHORTEST_H * 1.001) & (hours < FARTHEST_H * 0.999)
    np.testing.assert_allclose(risk_at(curves, hours)[inside], accepted, rtol=1e-8)
    for curve in curves.channels.values():
        assert (hours <= risk_interval(alone(curve), accepted) * (1 + 1e-9)).all()


def test_a_draws_hours_are_where_its_own_risk_is_the_accepted_one():
    curves = drawn_pair("logit", 5, 2.0, units=3, draws=40)
    hours = np.exp(log_hours_by_draw(curves, 0.1))
    for draw in range(40):
        odds = curves.log_odds_ratio[[draw]]
        one = {
            name: RiskCurves(curve.threshold[:, [draw]], curve.slope[[draw]], curve.link)
            for name, curve in curves.channels.items()
        }
        np.testing.assert_allclose(risk_at(OilCurves(one, odds), hours[:, draw]), 0.1, rtol=1e-7)


def test_the_risk_of_two_channels_is_the_sum_less_that_of_both():
    curves = drawn_pair("logit", 2, 1.3)
    hours = np.array([3.0, 8.0, 15.0, 0.0])
    own, both = channel_risks(curves, hours), both_risks(curves, hours)
    np.testing.assert_allclose(risk_at(curves, hours), own["colour"] + own["debris"] - both, atol=1e-12)
    assert (both[:3] > own["colour"][:3] * own["debris"][:3]).all(), "dirty in both more often than by chance"
    assert both[3] == 0.0


def test_more_agreement_is_less_risk_and_without_it_channels_are_independent():
    one, *others = (risk_at(drawn_pair("logit", 4, odds), np.full(4, 8.0)) for odds in (-2.0, 0.0, 2.0, 6.0))
    for risk in others:
        assert (risk < one).all()
        one = risk
    curves = drawn_pair("logit", 4, None)
    independent = risk_at(OilCurves(curves.channels, np.zeros(60)), np.full(4, 8.0))
    np.testing.assert_allclose(risk_at(curves, np.full(4, 8.0)), independent, rtol=1e-12)


def test_three_channels_are_independent_given_the_draw():
    three = OilCurves({name: sure_curves([10.0]) for name in ("colour", "debris", "smell")})
    assert risk_at(three, np.array([10.0]))[0] == pytest.approx(1 - 0.9**3)
    with pytest.raises(ContractError, match="3 channels"):
        OilCurves(three.channels, np.zeros(50))
