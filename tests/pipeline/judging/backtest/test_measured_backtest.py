"""Backtest of measured quantities on fleets with a known truth."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from scipy.stats import binom

from draincurve.pipeline.describing.wear_readings import WearSeries
from draincurve.pipeline.fitting.degradation.fitted_quantity import fit_wear, rows_to_fit
from draincurve.pipeline.judging.backtest.measured_backtest import backtest_measured
from draincurve.pipeline.judging.backtest.measured_predictions import predicted_readings
from draincurve.schemas.quantities import QUANTITY_OF
from draincurve.schemas.settings import Settings

START = date(2026, 1, 1)
TYPES = {"site": pl.String, "bound": pl.String, "fill": pl.Int64}


def clearances(seed, *, units=16, readings=8, bend=0.0):
    """Bush clearances [mm] of parts that wear at rates of their own; bend : mm/h2 by which wear speeds up."""
    rng = np.random.default_rng(seed)
    rows = []
    for unit in range(units):
        level, rate = 0.05 + 0.01 * rng.standard_normal(), 0.002 * np.exp(0.3 * rng.standard_normal())
        for hours in np.cumsum(rng.uniform(8, 16, readings)).tolist():
            value = level + rate * hours + bend * hours**2 + 0.01 * rng.standard_normal()
            rows.append({"unit_key": f"f{unit:02d}", "unit_id": f"F{unit:02d}", "site": None,
                         "measured_on": START + timedelta(days=int(2 * hours)), "value": value, "bound": None,
                         "clock_h": hours, "part": 0, "now": True, "fill": None, "in_doubt": False})  # fmt: skip
    quantity = QUANTITY_OF["bush_clearance"]
    return WearSeries(quantity, quantity.unit, None, pl.DataFrame(rows, schema_overrides=TYPES), 0)


def tried(series, origins=4):
    return backtest_measured([series], Settings(), origins=origins)


def test_ranges_hold_as_often_as_they_say_where_the_lines_are_right():
    found = [tried(clearances(seed)).quantities[0] for seed in range(4)]
    readings = sum(one.readings for one in found)
    assert readings > 250
    for at, nominal in enumerate((0.5, 0.8, 0.9)):
        inside = sum(round(one.coverage[at].covered * one.readings) for one in found)
        low, high = binom.ppf((0.0005, 0.9995), readings, nominal)
        assert low <= inside <= high
    beyond = sum(one.worse.past for one in found)
    assert binom.ppf(0.0005, readings, 0.1) <= beyond <= binom.ppf(0.9995, readings, 0.1)
    assert not any(one.doubted for one in found)
    assert all(one.fleet.beaten and one.score < one.fleet_by_hours.score for one in found)


def test_wear_that_speeds_up_is_called_understated():
    found = tried(clearances(1, bend=3e-5))
    assert found.quantities[0].understated
    assert found.quantities[0].widest.high < 0.9
    assert "Bush clearance: " in found.sentence
    assert "Wear was understated" in found.sentence


def test_nothing_later_changes_a_prediction():
    series = clearances(2)
    last = series.readings["measured_on"].max() - timedelta(days=20)
    changed = series.readings.with_columns(
        pl.when(pl.col("measured_on") >= last).then(pl.col("value") + 1.0).otherwise(pl.col("value")).alias("value")
    )
    known = pl.col("measured_on") < last
    rows, others = (
        tried(WearSeries(series.quantity, series.unit, None, readings, 0)).rows.filter(known)
        for readings in (series.readings, changed)
    )
    assert rows.height > 30
    assert rows.equals(others)


def test_a_reading_is_predicted_from_its_own_unit_s_readings_before_it():
    """A unit that was never measured starts as a new one, and its second reading is expected near its first."""
    series = clearances(3)
    fit_rows = rows_to_fit(series)
    own = pl.col("unit_key") == "f00"
    before, inside = fit_rows.filter(~own), fit_rows.filter(own).head(2).with_columns(pl.col("value") + 0.1)
    fitted = fit_wear(WearSeries(series.quantity, series.unit, None, before, 0), np.random.default_rng(1))
    found = predicted_readings(fitted, inside)
    low, middle, high = np.quantile(found.points, (0.05, 0.5, 0.95), axis=1)
    assert found.under[0] > 0.999
    assert high[1] - low[1] < high[0] - low[0]
    assert middle[1] - middle[0] > 0.06


def test_a_bound_counts_as_what_it_says():
    """Half of the later readings are only known to be under a number far over their range: they are inside it."""
    series = clearances(4)
    late = (pl.col("measured_on") >= START + timedelta(days=90)) & (pl.int_range(pl.len()) % 2 == 0)
    bounded = series.readings.with_columns(
        pl.when(late).then(pl.lit("under")).otherwise(pl.col("bound")).alias("bound"),
        pl.when(late).then(5.0).otherwise(pl.col("value")).alias("value"),
    )
    found = tried(WearSeries(series.quantity, series.unit, None, bounded, 0), origins=2)
    bounds = found.rows.filter(pl.col("bound") == "under")
    assert bounds.height > 20
    assert bounds["score"].to_numpy() == pytest.approx(0.0, abs=1e-9)
    assert found.quantities[0].widest.covered > 0.8
    assert found.quantities[0].worse.drains == found.quantities[0].readings - bounds.height


def test_too_few_readings_say_so():
    found = tried(clearances(5, units=3, readings=4))
    assert found.quantities == ()
    assert found.sentence == (
        "Bush clearance: the log has 12 readings with known hours; from 20 on, earlier predictions can be tested."
    )
    assert found.rows.height == 0
