"""Curves of single units: between their own points, and only of units that say something in a large fleet."""

import numpy as np
import polars as pl
import pytest

from draincurve.pipeline.deciding.oil_curves import OilCurves, risk_at
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


def test_the_median_rises_lies_inside_its_band_and_agrees_with_the_risk():
    curves, state, table = fleet(4)
    found = chosen_unit_curves(curves, state, table, 20.0, Settings())
    assert [curve.unit_id for curve in found] == state["unit_id"].to_list()
    for row, curve in enumerate(found):
        assert curve.hours[-1] == pytest.approx(25.0)
        assert (np.diff(curve.median) > 0).all()
        assert (curve.low <= curve.median).all()
        assert (curve.median <= curve.high).all()
        at = np.full(4, curve.hours[20])
        assert curve.median[20] == pytest.approx(risk_at(curves, at)[row], abs=0.02)


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
    found = chosen_unit_curves(curves, state, shuffled, 20.0, Settings())
    assert [curve.unit_id for curve in found] == ["u005", "u007", "u009"]


def test_without_a_fit_there_is_no_curve():
    _, state, table = fleet(3)
    assert chosen_unit_curves(OilCurves({}), state, table, 20.0, Settings()) == ()


def test_of_several_channels_the_oils_curve_comes_first_and_is_the_highest():
    curves, state, table = fleet(2)
    both = OilCurves({"colour": curves.channels["colour"], "debris": curves.channels["colour"]}, np.full(DRAWS, 1.0))
    found = chosen_unit_curves(both, state, table, 20.0, Settings())
    assert [(one.unit_id, one.channel) for one in found[::2]] == [
        ("u000", name) for name in ("oil", "colour", "debris")
    ]
    oil, colour = found[0], found[2]
    assert (oil.median > colour.median).all()
    assert (oil.median < 2 * colour.median).all()
