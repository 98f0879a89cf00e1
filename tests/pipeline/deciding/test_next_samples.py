from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from drained_fleets import fitted, frame, log_of, state_of_log
from fleet_frames import register

import draincurve.pipeline.deciding.next_samples as next_samples_module
from draincurve.pipeline.deciding.next_samples import LEAST_NARROWING, MOST_SAMPLES, NextSample, next_samples
from draincurve.pipeline.deciding.oil_curves import OilCurves, risk_at
from draincurve.pipeline.deciding.unit_risk import RiskCurves
from draincurve.pipeline.fitting.channel_fit import ChannelFit
from draincurve.pipeline.fitting.unit_thresholds import threshold_draws
from draincurve.schemas.settings import Caps, Settings

SETTINGS = Settings()


def curves_of(fit: ChannelFit, state: pl.DataFrame) -> RiskCurves:
    thresholds = threshold_draws(fit, state, limit=4, priors=SETTINGS.priors, rng=np.random.default_rng(2))
    return RiskCurves(thresholds, fit.hours_slope, "logit")


def service_of(state: pl.DataFrame, on_oil: dict[str, float] | None = None) -> pl.DataFrame:
    hours = [(on_oil or {}).get(key) for key in state["unit_key"]]
    return state.select("unit_id", "site", pl.Series("hours_on_oil", hours, dtype=pl.Float64))


def asked(
    drains: pl.DataFrame,
    units: pl.DataFrame | None = None,
    on_oil: dict[str, float] | None = None,
    settings: Settings = SETTINGS,
    **changes: pl.Expr,
) -> tuple[tuple[NextSample, ...], pl.DataFrame, OilCurves]:
    fit = fitted(drains)
    state = state_of_log(drains, units).with_columns(**changes)
    curves = curves_of(fit, state)
    found = next_samples({"debris": fit}, OilCurves({"debris": curves}), state, service_of(state, on_oil), settings)
    return found, state, OilCurves({"debris": curves})


def test_where_every_drain_was_at_the_same_hours_the_list_staggers_them():
    """Common practice: earlier and later than the one number of hours that the shop always ran."""
    unit = np.repeat(np.arange(8), 4)
    ratings = np.random.default_rng(4).choice([1, 2, 3], size=unit.size, p=[0.5, 0.35, 0.15])
    found, _, _ = asked(frame(unit, np.full(unit.size, 15.0), ratings))
    assert len(found) == MOST_SAMPLES
    assert all(sample.at_hours <= 10 or sample.at_hours >= 17 for sample in found)
    assert {sample.of for sample in found} == {"fleet"}
    assert all(sample.why.startswith("Most drains were at 15 h or near it") for sample in found)


def test_at_most_six_units_each_once_and_each_narrows():
    found, _, _ = asked(log_of(units=9, drains=4, seed=1))
    assert len(found) == MOST_SAMPLES
    assert len({sample.unit_id for sample in found}) == MOST_SAMPLES
    assert all(0.0 < sample.narrower < 1.0 for sample in found)
    two, _, _ = asked(log_of(units=2, drains=5, seed=1))
    assert len(two) == 2


def test_a_settled_fleet_is_asked_for_nothing():
    found, _, _ = asked(log_of(units=20, drains=10, seed=1))
    assert found == ()
    young, _, _ = asked(log_of(units=9, drains=4, seed=1))
    assert young
    assert all(sample.narrower <= 1.0 - LEAST_NARROWING for sample in young)


@pytest.fixture
def however_little_it_tells(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(next_samples_module, "LEAST_NARROWING", 0.0)


@pytest.mark.usefixtures("however_little_it_tells")
def test_hours_stay_within_caps_and_not_under_what_is_on_the_oil():
    drains = log_of(units=5, drains=5, seed=2, limit_h=60.0)
    longest = drains["oil_hours"].max()
    free, _, _ = asked(drains)
    assert max(sample.at_hours for sample in free) <= 1.25 * longest
    assert max(sample.at_hours for sample in free) > 11.0
    limits = register(*({"unit_key": f"u{n:03d}", "max_interval_h": 11.0 + n} for n in range(5)))
    capped, _, _ = asked(drains, limits, {"u001": 9.3}, replace(SETTINGS, caps=Caps(13.0, None)))
    for sample in capped:
        assert sample.at_hours <= min(11.0 + int(sample.unit_id[1:]), 13.0)
    assert next(sample.at_hours for sample in capped if sample.unit_id == "U001") >= 9.3


def test_units_to_inspect_or_past_their_caps_are_not_asked_for():
    drains = log_of(units=3, drains=5, seed=2)
    signs = pl.when(pl.col("unit_key") == "u000").then(pl.lit("leak")).alias("signs")
    found, _, _ = asked(drains, on_oil={"u001": 900.0}, signs=signs)
    assert [sample.unit_id for sample in found] == ["U002"]


def test_a_unit_without_any_hours_left_by_wear_is_not_asked_for():
    """Its oil was just changed, and its line meets the wear limit by now."""
    unit = np.repeat(np.arange(8), 4)
    ratings = np.random.default_rng(4).choice([1, 2, 3], size=unit.size, p=[0.5, 0.35, 0.15])
    worn = pl.when(pl.col("unit_key") == "u001").then(0.0).alias("wear_h")
    found, state, _ = asked(frame(unit, np.full(unit.size, 15.0), ratings), wear_h=worn)
    assert "u001" in state["unit_key"]
    assert found
    assert "U001" not in {sample.unit_id for sample in found}


def test_hours_past_the_accepted_risk_are_marked_and_never_past_twice_it():
    marks = set()
    for seed in range(6):
        found, state, curves = asked(log_of(units=4, drains=6, seed=seed, limit_h=9.0))
        rows = {unit: row for row, unit in enumerate(state["unit_id"])}
        for sample in found:
            risk = risk_at(curves.rows(np.array([rows[sample.unit_id]])), np.array([sample.at_hours]))[0]
            assert sample.past_accepted_risk == (risk > 0.10)
            assert risk <= 0.20 + 1e-6
            assert ("agree on it first" in sample.why) == sample.past_accepted_risk
            marks.add(sample.past_accepted_risk)
    assert marks == {True, False}


def test_a_unit_with_no_drains_is_asked_for_on_its_own_account():
    drains = log_of(units=8, drains=12, seed=3)
    newcomer = register({"unit_key": "zz", "spring_type": "steel", "oil_grade": "amber", "site": "north"})
    found, _, _ = asked(drains, newcomer)
    sample = next(sample for sample in found if sample.unit_id == "ZZ")
    assert sample.of == "unit"
    assert sample.why.startswith("Few drains of this unit are rated")
    assert sample.narrower == min(item.narrower for item in found)


def test_two_channels_and_none():
    drains = log_of(units=5, drains=5, seed=6).with_columns(
        pl.col("debris_low").alias("colour_low"), pl.lit(2).alias("colour_high")
    )
    debris = fitted(drains)
    state = state_of_log(drains)
    curves = curves_of(debris, state)
    late = RiskCurves(curves.threshold + 25.0, curves.slope, "logit")
    service = service_of(state)
    alone = next_samples({"debris": debris}, OilCurves({"debris": curves}), state, service, SETTINGS)
    both = next_samples(
        {"colour": debris, "debris": debris},
        OilCurves({"colour": late, "debris": curves}),
        state,
        service,
        SETTINGS,
    )
    assert {sample.channel for sample in both} == {"debris"}
    assert [(s.unit_id, s.at_hours, s.narrower) for s in both] == [(s.unit_id, s.at_hours, s.narrower) for s in alone]
    assert next_samples({}, OilCurves({}), state, service, SETTINGS) == ()


def test_two_units_of_one_name_at_two_sites_keep_their_own_hours():
    drains = log_of(units=2, drains=6, seed=8)
    state = state_of_log(drains).with_columns(unit_id=pl.lit("F1"), site=pl.Series(["north", None]))
    fit = fitted(drains)
    service = pl.DataFrame({"unit_id": ["F1", "F1"], "site": [None, "north"], "hours_on_oil": [8.6, 11.2]})
    found = next_samples({"debris": fit}, OilCurves({"debris": curves_of(fit, state)}), state, service, SETTINGS)
    at = {sample.site: sample.at_hours for sample in found}
    assert at["north"] >= 11.2
    assert at[None] >= 8.6


@pytest.mark.usefixtures("however_little_it_tells")
@pytest.mark.parametrize("rating", [1, 5])
def test_every_drain_clean_or_worst_still_gives_an_answer(rating: int):
    unit = np.repeat(np.arange(4), 5)
    hours = np.round(np.random.default_rng(9).uniform(8, 16, unit.size), 1)
    found, _, _ = asked(frame(unit, hours, np.full(unit.size, rating)))
    assert all(sample.at_hours <= 20.0 and 0 < sample.narrower <= 1 for sample in found)
    assert bool(found) == (rating == 1)


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        (7.9, "No drain was as early as 7.9 h"),
        (8.0, "Few drains were as early as 8 h"),
        (30.0, "Few drains ran as long as 30 h"),
        (30.1, "No drain ran as long as 30.1 h"),
    ],
)
def test_hours_outside_the_log_are_said_to_be_so(hours: float, said: str):
    fit = fitted(log_of(units=9, drains=6, seed=3))
    logged = np.log(np.linspace(8.0, 30.0, 23))
    within = replace(fit, drains=replace(fit.drains, log_hours=logged))
    assert next_samples_module._reason(within, hours, for_unit=False, new=False).startswith(said)
