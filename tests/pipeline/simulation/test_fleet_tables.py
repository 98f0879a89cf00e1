import json
from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from draincurve.pipeline.simulation.fleet_tables import simulate_fleet
from draincurve.pipeline.simulation.scenarios import SCENARIOS

SIZES = {"race_team": (16, 180), "spring_trial": (12, 150), "track_school": (120, 1500)}


@pytest.fixture(scope="module", params=SCENARIOS)
def fleet(request):
    chosen = SCENARIOS[request.param]
    return request.param, simulate_fleet(chosen.plan(), np.random.default_rng(chosen.seed))


def test_sizes_and_columns(fleet):
    name, made = fleet
    units, drains = SIZES[name]
    assert made.tables["drains"].height == drains
    assert made.tables["drains"]["unit_id"].n_unique() == units
    assert made.tables["units"]["unit_id"].is_unique().all()
    assert made.tables["usage"].columns == made.tables["bookings"].columns == ["unit_id", "date", "hours"]
    assert sum(made.tables["drains"].null_count().row(0)) == 0


def test_dates_lie_where_they_belong(fleet):
    _, made = fleet
    as_of = date(2026, 6, 20)
    drained = made.tables["drains"]["drained_on"]
    assert date(2023, 1, 1) < drained.min()
    assert drained.max() <= date(2026, 6, 15)
    assert made.tables["usage"]["date"].max() <= as_of
    booked = made.tables["bookings"]["date"]
    assert as_of < booked.min()
    assert booked.max() <= as_of + timedelta(weeks=8)


def test_every_riding_day_since_the_last_drain_is_there(fleet):
    _, made = fleet
    last = made.tables["drains"].group_by("unit_id").agg(pl.col("drained_on").max())
    usage = made.tables["usage"].join(last, on="unit_id", how="left")
    since = usage.filter(pl.col("date") > pl.col("drained_on"))
    assert since["unit_id"].n_unique() > 0.7 * last.height
    assert usage["hours"].min() > 0


def test_truth_is_plain_and_covers_every_unit(fleet):
    _, made = fleet
    truth = json.loads(json.dumps(made.truth))
    assert set(truth["units"]) == set(made.tables["drains"]["unit_id"])
    for name, channel in truth["channels"].items():
        assert channel["thresholds"] == sorted(channel["thresholds"])
        for term, levels in channel["coefficients"].items():
            listed = [value for level, value in levels.items() if level not in ("Coil 90", "Shock 3")]
            assert sum(listed) == pytest.approx(0, abs=1e-3), (name, term)


def test_hours_in_the_truth_carry_the_accepted_risk(fleet):
    """Rebuilt from the published parts of the truth alone, for units without settling or run-in to add."""
    _, made = fleet
    truth, units = made.truth, made.tables["units"].rows_by_key("unit_id", named=True, unique=True)
    for unit, entry in truth["units"].items():
        now = units[unit]
        for name, channel in truth["channels"].items():
            coefficients = channel["coefficients"]
            eta = (
                channel["hours_slope"] * np.log(entry[name]["hours_at_risk"])
                + coefficients["spring_type"][now["spring_type"]]
                + coefficients["oil_grade"][now["oil_grade"]]
                + coefficients["rider"][now["rider"]]
                + coefficients["site"][now["site"]]
                + channel["settle"] * np.log1p(0.167)
                + entry[name]["effect"]
            )
            assert 1 / (1 + np.exp(channel["thresholds"][2] - eta)) == pytest.approx(0.1, abs=1e-4)


def test_a_few_units_are_clearly_faster():
    for name, few in (("race_team", 3), ("track_school", 4)):
        chosen = SCENARIOS[name]
        truth = simulate_fleet(chosen.plan(), np.random.default_rng(chosen.seed)).truth
        assert len(truth["planted_units"]) == few
        assert set(truth["planted_units"]) <= set(truth["faster_units_in_every_channel"])
        for unit in truth["planted_units"]:
            assert truth["units"][unit]["debris"]["hours_ratio"] <= 0.45


def test_race_team_has_the_rows_a_first_screen_needs():
    chosen = SCENARIOS["race_team"]
    made = simulate_fleet(chosen.plan(), np.random.default_rng(chosen.seed))
    drains, units = made.tables["drains"], made.tables["units"]
    assert drains["milky"].sum() == 1
    assert drains["leak"].sum() == 1
    leaking = drains.filter(pl.col("leak")).row(0, named=True)
    assert leaking["drained_ml"] < 0.8 * leaking["filled_ml"]
    assert set(units["unit_id"]) - set(drains["unit_id"]) == {"F13"}
    assert units.filter(~pl.col("in_service"))["unit_id"].to_list() == ["F10"]


def test_the_trial_has_one_spring_that_sheds_and_one_that_is_equal():
    chosen = SCENARIOS["spring_trial"]
    made = simulate_fleet(chosen.plan(), np.random.default_rng(chosen.seed))
    multipliers = made.truth["channels"]["debris"]["spring_hours_multipliers"]
    assert multipliers == {"Plain 46": 1.0, "Coated 46": 1.0, "Stepped 46": 0.5}
    means = dict(made.tables["drains"].group_by("spring_type").agg(pl.col("debris_rating").mean()).iter_rows())
    assert means["Stepped 46"] > max(means["Plain 46"], means["Coated 46"]) + 0.3
