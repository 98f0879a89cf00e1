"""Curves of single units: between their own points, and only of units that say something in a large fleet."""

import numpy as np
import polars as pl
import pytest

from draincurve.pipeline.deciding.oil_curves import OilCurves, risk_at, risk_interval
from draincurve.pipeline.deciding.unit_curves import MOST_UNITS, chosen_unit_curves
from draincurve.pipeline.deciding.unit_risk import RiskCurves
from draincurve.schemas.settings import Settings

DRAWS = 400


def fleet(units: int):
    rng = np.random.default_rng(5)
    slope = np.exp(rng.normal(0.7, 0.1, DRAWS))
    cut = slope * np.log(15.0) + rng.normal(0.0, 0.5, (units, 1)) + rng.normal(0.0, 0.2, (units, DRAWS))
    names = [f"u{number:03d}" for number in range(units)]
    state = pl.DataFrame(
        {"unit_id": names, "site": [None] * units, "signs": [None] * units},
        schema={"unit_id": pl.String, "site": pl.String, "signs": pl.String},
    )
    table = state.select("unit_id", "site", pl.lit("with the fleet").alias("standing"), pl.lit(False).alias("turned"))
    return OilCurves({"colour": RiskCurves(cut, slope, "logit")}), state, table


def test_the_risk_rises_lies_inside_its_band_and_is_the_one_that_sets_intervals():
    curves, state, table = fleet(4)
    found = chosen_unit_curves([curves], state, table, 20.0, Settings())
    assert [curve.unit_id for curve in found] == state["unit_id"].to_list()
    for row, curve in enumerate(found):
        assert curve.hours[-1] == pytest.approx(25.0)
        assert (np.diff(curve.risk) > 0).all()
        assert (curve.low <= curve.risk).all()
        assert (curve.risk <= curve.high).all()
        at = np.full(4, curve.hours[20])
        assert curve.risk[20] == pytest.approx(risk_at(curves, at)[row])


def test_the_line_reaches_the_accepted_risk_at_the_shorter_interval_of_two_readings():
    curves, state, table = fleet(2)
    colour = curves.channels["colour"]
    dirtier = OilCurves({"colour": RiskCurves(colour.threshold - np.array([[0.6], [-0.6]]), colour.slope, "logit")})
    found = chosen_unit_curves([curves, dirtier], state, table, 20.0, Settings())
    shorter = np.minimum(risk_interval(curves, 0.1), risk_interval(dirtier, 0.1))
    for row, curve in enumerate(found):
        assert np.interp(0.1, curve.risk, curve.hours) == pytest.approx(shorter[row], rel=0.01)
        alone = chosen_unit_curves([(dirtier, curves)[row]], state, table, 20.0, Settings())[row]
        assert curve.risk == pytest.approx(alone.risk)


def test_a_large_fleet_hands_over_only_units_that_say_something():
    curves, state, table = fleet(MOST_UNITS + 10)
    table = table.with_columns(
        pl.when(pl.col("unit_id") == "u005")
        .then(pl.lit("faster than the fleet"))
        .otherwise("standing")
        .alias("standing"),
        (pl.col("unit_id") == "u007").alias("turned"),
    )
    state = state.with_columns(
        pl.when(pl.col("unit_id") == "u009").then(pl.lit("leak")).otherwise("signs").alias("signs")
    )
    shuffled = table.sample(fraction=1.0, shuffle=True, seed=1)
    found = chosen_unit_curves([curves], state, shuffled, 20.0, Settings())
    assert [curve.unit_id for curve in found] == ["u005", "u007", "u009"]


def test_without_a_fit_there_is_no_curve():
    _, state, table = fleet(3)
    assert chosen_unit_curves([OilCurves({})], state, table, 20.0, Settings()) == ()


def test_of_several_channels_the_oils_curve_comes_first_and_is_the_highest():
    curves, state, table = fleet(2)
    both = OilCurves({"colour": curves.channels["colour"], "debris": curves.channels["colour"]}, np.full(DRAWS, 1.0))
    found = chosen_unit_curves([both], state, table, 20.0, Settings())
    assert [(one.unit_id, one.channel) for one in found[::2]] == [
        ("u000", name) for name in ("oil", "colour", "debris")
    ]
    oil, colour = found[0], found[2]
    assert (oil.risk > colour.risk).all()
    assert (oil.risk < 2 * colour.risk).all()
