from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from fleet_frames import AS_OF, day, drain, drains_of, plan, register, ridden, standings_of, sure_curves, table_of
from hypothesis import given, settings
from hypothesis import strategies as st

from draincurve.pipeline.describing.fleet_state import fleet_state
from draincurve.schemas.errors import ContractError
from draincurve.schemas.next_service_table import COLUMNS
from draincurve.schemas.settings import Caps, Costs, Settings

HISTORY = [drain("u", -60), drain("u", -40, 20.0), drain("u", -10, 18.0)]
DAILY = [("u", -offset, 0.5) for offset in range(60)]


def only(drains, *args, **kwargs):
    table, why = plan(drains, *args, **kwargs)
    assert tuple(table.columns) == COLUMNS
    return table.row(0, named=True) | why.row(0, named=True)


def test_the_channel_sets_the_interval_and_usage_the_hours():
    row = only(drains_of(*HISTORY), usage=ridden(*DAILY))
    assert row["interval_h"] == 10.0
    assert row["set_by"] == "debris"
    assert row["hours_on_oil"] == pytest.approx(5.5)
    assert row["hours_left"] == pytest.approx(row["interval_h"] - 5.5)
    assert row["due_on"] > AS_OF
    assert row["risk_now"] == pytest.approx(1 / (1 + 9 * (10 / 5.5) ** 3))
    assert row["standing"] == "with the fleet"
    assert row["why"].startswith("Debris sets ")


hours = st.floats(0.2, 60)


@given(hours, st.none() | hours, st.none() | hours, hours, st.sampled_from([0.1, 0.5, 1.0]))
@settings(max_examples=50)
def test_the_interval_is_never_above_any_cap_and_is_rounded_down(risk_hours, own, fleet, longest, step):
    chosen = replace(Settings(), step_h=step, caps=Caps(fleet, None))
    units = register({"unit_key": "u", "max_interval_h": own})
    row = only(
        drains_of(drain("u", -60, longest), drain("u", -30, 0.1)), units, settings=chosen, risk_hours=risk_hours
    )
    caps = {"debris": risk_hours, "maker_limit": min(own or np.inf, fleet or np.inf), "data_range": 1.25 * longest}
    assert row["interval_h"] <= min(caps.values()) + 1e-9
    assert row["interval_h"] > min(caps.values()) - step - 1e-3
    assert caps[row["set_by"]] == pytest.approx(min(caps.values()))


@given(st.lists(st.floats(0.1, 4), min_size=3, max_size=12), st.integers(1, 12), st.floats(0, 8))
@settings(max_examples=25)
def test_a_longer_ride_in_the_log_never_gives_a_later_date(rides, at, more):
    at = at % len(rides)
    base = [("u", -2 * i, h) for i, h in enumerate(rides)]
    longer = [(unit, offset, h + (more if i == at else 0)) for i, (unit, offset, h) in enumerate(base)]
    drains = drains_of(drain("u", -60), drain("u", -30, 20.0))
    assert only(drains, usage=ridden(*longer))["due_on"] <= only(drains, usage=ridden(*base))["due_on"]


@given(st.floats(0.1, 3), st.integers(1, 25), st.booleans())
@settings(max_examples=25)
def test_blanking_the_end_of_the_usage_log_never_moves_the_date_later(per_day, lost, others):
    daily = [("u", -offset, per_day) for offset in range(60)]
    other = [("v", -offset, per_day) for offset in range(60)] if others else []
    drains = drains_of(*HISTORY, *([drain("v", -50)] if others else []))
    whole = only(drains, usage=ridden(*daily, *other))
    cut = only(drains, usage=ridden(*daily[lost:], *other))
    assert cut["hours_on_oil"] >= whole["hours_on_oil"] - 1e-9 or lost == 1
    assert cut["due_on"] <= whole["due_on"] or lost == 1


@given(st.lists(st.floats(5, 40), min_size=2, max_size=6), st.data())
@settings(max_examples=25)
def test_blanking_a_limit_of_the_register_never_moves_a_date_later(limits, data):
    shortest = min(range(len(limits)), key=limits.__getitem__)
    blank = data.draw(st.sampled_from([i for i in range(len(limits)) if i != shortest]))
    keys = [f"u{i}" for i in range(len(limits))]
    drains = drains_of(*(drain(key, offset, 30.0) for key in keys for offset in (-60, -30)))
    usage = ridden(*((key, -offset, 0.2) for key in keys for offset in range(40)))
    register_rows = [{"unit_key": key, "max_interval_h": limit} for key, limit in zip(keys, limits, strict=True)]
    whole = plan(drains, register(*register_rows), usage, risk_hours=50.0)[0]
    register_rows[blank]["max_interval_h"] = None
    holed, why = plan(drains, register(*register_rows), usage, risk_hours=50.0)
    assert (holed["interval_h"] <= whole["interval_h"]).all()
    assert (holed["due_on"] <= whole["due_on"]).all()
    assert "shortest of like units" in why["why"][blank]


def test_a_blank_drain_hour_or_spring_never_moves_the_date_later():
    usage = ridden(*DAILY)
    whole = only(drains_of(*HISTORY), usage=usage, risk_hours=40.0)
    for hole in ({"oil_hours": None}, {"spring_type": None}):
        for place in range(3):
            rows = [row | hole if i == place else row for i, row in enumerate(HISTORY)]
            holed = only(drains_of(*rows), usage=usage, risk_hours=40.0)
            assert holed["due_on"] <= whole["due_on"]


def test_the_smallest_channel_gives_the_points_before_caps_and_rounding():
    state = fleet_state(drains_of(*HISTORY, drain("v", -9)), None, as_of=AS_OF)
    curves = {
        "colour": sure_curves([8.2, 900.0], spread=0.5),
        "debris": sure_curves([900.0, 11.3], spread=0.5),
    }
    capped = replace(Settings(), caps=Caps(5.0, None))
    table, _ = table_of(state, curves, drains_of(*HISTORY, drain("v", -9)), settings=capped)
    by_unit = {row["unit_id"]: row for row in table.iter_rows(named=True)}
    assert by_unit["U"]["interval_low_h"] < 8.2 < by_unit["U"]["interval_high_h"] < 11
    assert by_unit["V"]["interval_low_h"] < 11.3 < by_unit["V"]["interval_high_h"]
    assert {row["set_by"] for row in by_unit.values()} == {"maker_limit"}
    assert {row["interval_h"] for row in by_unit.values()} == {5.0}


def test_without_a_channel_the_caps_alone_decide_or_nothing_does():
    capped = only(drains_of(*HISTORY), risk_hours=None)
    assert (capped["set_by"], capped["interval_h"]) == ("data_range", 25.0)
    assert capped["risk_now"] is None
    bare = only(drains_of(drain("u", -10, None)), usage=ridden(*DAILY), risk_hours=None)
    assert (bare["interval_h"], bare["set_by"], bare["due_on"]) == (None, None, None)
    assert bare["why"].startswith("No interval")


def test_the_oils_age_is_named_where_its_date_comes_first():
    row = only(drains_of(*HISTORY), register({"unit_key": "u", "max_oil_days": 12.0}), ridden(*DAILY))
    assert (row["set_by"], row["due_on"]) == ("oil_age", day(2))
    assert row["interval_h"] is not None
    fleet = only(drains_of(*HISTORY), usage=ridden(*DAILY), settings=replace(Settings(), caps=Caps(None, 11.0)))
    assert (fleet["set_by"], fleet["due_on"]) == ("oil_age", day(1))


def test_units_without_a_date_stand_first_then_the_soonest():
    drains = drains_of(*HISTORY, drain("b", -3, 18.0), drain("c", -1))
    usage = ridden(
        *DAILY, *(("b", -offset, 0.5) for offset in range(10)), *(("c", -offset, 2.0) for offset in range(10))
    )
    state = fleet_state(drains, None, as_of=AS_OF)
    curves = {"debris": sure_curves([12.0] * 3)}
    table, why = table_of(state, curves, drains, usage)
    assert table["due_on"].is_sorted()
    assert table["unit_id"].to_list() == why["unit_id"].to_list()
    nothing = plan(drains_of(drain("z", -9), drain("a", -9, None)), risk_hours=None)[0]
    assert nothing["due_on"].to_list() == [None, None]


def test_a_new_unit_borrows_the_fleets_interval_and_is_drained_now():
    table, why = plan(drains_of(*HISTORY), register({"unit_key": "new", "site": "north", "spring_type": "steel"}))
    row = table.row(0, named=True)
    assert (row["unit_id"], row["drains"], row["due_on"], row["hours_on_oil"]) == ("NEW", 0, AS_OF, None)
    assert "values are the fleet's" in why["why"][0]


def test_a_unit_that_nobody_judged_has_too_few_drains():
    state = fleet_state(drains_of(*HISTORY), None, as_of=AS_OF)
    none_judged = standings_of(state).clear()
    table, _ = table_of(state, {"debris": sure_curves([10.0])}, drains_of(*HISTORY), standings=none_judged)
    assert table["standing"].to_list() == ["too few drains"]
    assert table["hours_ratio"].to_list() == [None]


def test_signs_say_inspect_now_and_keep_the_row():
    row = only(drains_of(*HISTORY[:2], drain("u", -10, 18.0, leak=True)), usage=ridden(*DAILY))
    assert row["why"].startswith("Inspect now, whatever the interval (leak); ")
    assert row["interval_h"] is not None


def test_costs_shorten_and_never_lengthen_the_interval():
    drains, usage = drains_of(*HISTORY), ridden(*DAILY)
    dear = only(drains, usage=usage, settings=replace(Settings(), costs=Costs(1.0, 1000.0)))
    assert dear["interval_h"] < 9.0
    assert dear["set_by"] == "debris"
    assert "the cheapest by the costs set" in dear["why"]
    cheap = only(drains, usage=usage, settings=replace(Settings(), costs=Costs(100.0, 150.0)))
    plain = only(drains, usage=usage)
    assert cheap["interval_h"] == plain["interval_h"]
    assert cheap["cost_interval_h"] is None or cheap["cost_interval_h"] > plain["interval_h"]
    none = only(drains, usage=usage, settings=replace(Settings(), costs=Costs(100.0, 1.0)))
    assert none["cost_interval_h"] is None
    assert "no interval is cheapest" in none["cost_why"]
    assert "cheapest" not in none["why"]


def test_less_than_one_step_is_said():
    row = only(drains_of(*HISTORY), usage=ridden(*DAILY), risk_hours=0.3)
    assert row["interval_h"] == 0.0
    assert row["due_on"] == AS_OF
    assert "less than one step" in row["why"]


def test_curves_that_do_not_stand_as_the_units_are_refused():
    state = fleet_state(drains_of(*HISTORY), None, as_of=AS_OF)
    with pytest.raises(ContractError, match="2 curves for 1 rows"):
        table_of(state, {"debris": sure_curves([1.0, 2.0])}, drains_of(*HISTORY))


def test_an_empty_fleet_is_an_empty_table():
    table, why = plan(drains_of(), usage=ridden(), bookings=ridden())
    assert table.height == why.height == 0
    assert tuple(table.columns) == COLUMNS


def test_the_same_input_gives_the_same_table_in_any_order_of_rows():
    usage, drains = ridden(*DAILY), drains_of(*HISTORY, drain("v", -9))
    first = plan(drains, usage=usage)
    again = plan(drains.reverse(), usage=usage.reverse())
    assert first[0].equals(again[0])
    assert first[1].equals(again[1])
    assert isinstance(first[0], pl.DataFrame)
