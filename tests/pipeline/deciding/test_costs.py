from __future__ import annotations

import numpy as np
import pytest
from age_replacement import age_replacement_optimum
from fleet_frames import sure_curves
from scipy.optimize import minimize_scalar
from test_oil_curves import alone, drawn_curves

from draincurve.pipeline.deciding.costs import NoOptimum, cost_interval
from draincurve.pipeline.deciding.oil_curves import risk_at
from draincurve.pipeline.deciding.unit_risk import RiskCurves
from draincurve.schemas.errors import ContractError


@pytest.mark.parametrize("link", ["logit", "probit", "cloglog"])
def test_the_cheapest_hours_are_the_first_minimum_of_the_cost_per_hour(link):
    curves = drawn_curves(link, 5, units=6, draws=300)
    found = cost_interval(curves, change=50.0, late=900.0)
    hours = np.exp(np.linspace(np.log(0.01), np.log(500), 6000))
    costs = np.array([(50.0 + 900.0 * risk_at(curves, np.full(curves.units, h))) / h for h in hours]).T
    for row, cost in enumerate(costs):
        rises = np.flatnonzero(np.diff(cost) > 0)
        assert found.why_none[row] == NoOptimum.FOUND
        assert found.hours[row] == pytest.approx(hours[rises[0]], rel=0.003)
        assert found.cost_per_hour[row] == pytest.approx(cost[rises[0]], rel=1e-4)


def test_it_is_a_minimum_by_scipy_too():
    curves = alone(sure_curves([10.0], slope=4.0, draws=1))

    def cost(hours):
        return (1.0 + 20.0 * risk_at(curves, np.array([hours]))[0]) / hours

    best = minimize_scalar(cost, bounds=(2.0, 12.0), method="bounded", options={"xatol": 1e-9})
    assert cost_interval(curves, 1.0, 20.0).hours[0] == pytest.approx(best.x, rel=1e-6)


def test_a_dearer_late_change_never_lengthens_the_interval():
    curves = drawn_curves("logit", 9, units=5, draws=200)
    hours = np.stack([cost_interval(curves, 10.0, late).hours for late in (100.0, 200.0, 400.0, 4000.0)])
    assert (np.diff(hours, axis=0) <= 0).all()


@pytest.mark.parametrize("shape", [1.0, 0.8])
def test_where_the_hazard_does_not_rise_there_is_no_cheapest_interval(shape):
    """Exponential hours, and Weibull hours with a falling hazard: derived, see the heading of costs.py."""
    curves = alone(RiskCurves(np.full((2, 4), 2.0), np.full(4, shape), "cloglog"))
    found = cost_interval(curves, 1.0, 1000.0)
    assert np.isinf(found.hours).all()
    assert found.why_none == (NoOptimum.RISK_DOES_NOT_RISE,) * 2


def test_a_late_change_that_costs_too_little_has_no_cheapest_interval_and_says_so():
    found = cost_interval(alone(sure_curves([10.0], slope=3.0)), change=100.0, late=5.0)
    assert found.why_none == (NoOptimum.LATE_TOO_CHEAP,)
    assert "too little" in found.why_none[0]


def test_it_agrees_with_age_replacement_where_the_risk_is_small():
    """Both have the numerator change + late P; the mean time to change is h less what failures cut off."""
    shape, life = 3.0, 20.0
    curves = alone(RiskCurves(np.full((1, 2), shape * np.log(life)), np.full(2, shape), "cloglog"))
    inspected = cost_interval(curves, 1.0, 2000.0).hours[0]
    announced = age_replacement_optimum(
        lambda t: float(np.exp(-((t / life) ** shape))),
        lambda t: shape / life * (t / life) ** (shape - 1),
        1.0,
        2001.0,
        life,
    ).age
    assert inspected == pytest.approx(announced, rel=2e-3)


def test_age_replacement_refuses_costs_that_make_no_sense():
    with pytest.raises(ContractError, match="preventive < failure"):
        age_replacement_optimum(lambda _: 1.0, lambda _: 1.0, 5.0, 5.0, 1.0)
