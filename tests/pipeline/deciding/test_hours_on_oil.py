from __future__ import annotations

import pytest
from fleet_frames import AS_OF, drain, drains_of, register, ridden

from draincurve.pipeline.deciding.hours_on_oil import HOURS_COLUMNS, hours_on_oil
from draincurve.pipeline.deciding.riding_rates import known_usage, riding_rates
from draincurve.pipeline.describing.fleet_state import fleet_state


def on_oil(drains, usage=None, bookings=None, units=None) -> dict[str, dict[str, object]]:
    state = fleet_state(drains, units, as_of=AS_OF)
    days = known_usage(usage, AS_OF)
    table = hours_on_oil(state, riding_rates(state, drains, days), days, bookings, AS_OF)
    assert tuple(table.columns) == HOURS_COLUMNS
    return {row["unit_key"]: row for row in table.iter_rows(named=True)}


def test_rows_since_the_drain_add_up_and_cover_the_time():
    usage = ridden(("u", -20, 9.0), *(("u", -offset, 1.5) for offset in range(6)))
    found = on_oil(drains_of(drain("u", -10)), usage)["u"]
    assert found["hours_on_oil"] == pytest.approx(9.0)
    assert found["hours_on_oil_basis"] == "logged"
    assert found["unknown_days"] == 0


def test_yesterday_is_near_enough():
    usage = ridden(("u", -9, 1.0), ("u", -1, 1.0))
    assert on_oil(drains_of(drain("u", -10)), usage)["u"]["hours_on_oil_basis"] == "logged"


def test_a_row_on_the_day_of_the_drain_counts_as_ridden_after_it():
    usage = ridden(("u", -10, 4.0), ("u", -5, 2.0), ("u", 0, 1.0))
    found = on_oil(drains_of(drain("u", -10)), usage)["u"]
    assert found["hours_on_oil"] == pytest.approx(7.0)
    assert found["drain_day_h"] == 4.0


def test_silence_at_the_end_counts_for_more_than_the_expected_hours():
    usage = ridden(*(("u", -offset, 1.0) for offset in range(20, 40)))
    found = on_oil(drains_of(drain("u", -30)), usage)["u"]
    assert found["unknown_days"] == 20
    assert found["hours_on_oil"] > 11.0 + 20.0
    assert found["hours_on_oil_basis"] == "estimated"


def test_silence_is_rest_where_the_sites_log_goes_on_and_the_unit_rested_as_long_before():
    usage = ridden(("u", -40, 2.0), ("u", -25, 2.0), ("u", -12, 2.0), *(("v", -offset, 1.0) for offset in range(60)))
    drains = drains_of(drain("u", -30), drain("v", -30))
    found = on_oil(drains, usage)["u"]
    assert found["hours_on_oil"] == pytest.approx(4.0)
    assert found["hours_on_oil_basis"] == "logged"
    too_long = ridden(("u", -40, 2.0), ("u", -38, 2.0), *(("v", -offset, 1.0) for offset in range(60)))
    assert on_oil(drains, too_long)["u"]["unknown_days"] == 30


def test_another_sites_log_says_nothing():
    usage = ridden(("u", -40, 2.0), ("u", -25, 2.0), ("u", -12, 2.0), *(("v", -offset, 1.0) for offset in range(60)))
    drains = drains_of(drain("u", -30), drain("v", -30, site="south"))
    assert on_oil(drains, usage)["u"]["unknown_days"] == 12


def test_a_log_that_begins_after_the_drain_leaves_the_days_before_it_unknown():
    usage = ridden(*(("u", -offset, 1.0) for offset in range(5)))
    found = on_oil(drains_of(drain("u", -30)), usage)["u"]
    assert found["unknown_days"] == 26
    assert found["hours_on_oil"] > 5.0 + 26.0


def test_without_usage_past_drains_tell_cautiously():
    found = on_oil(drains_of(drain("u", -50), drain("u", -30, 20.0), drain("u", -10, 20.0)))["u"]
    assert found["hours_on_oil"] > 10.0
    assert found["hours_on_oil_basis"] == "estimated"


def test_what_was_booked_and_not_logged_is_a_floor_under_the_estimate():
    usage = ridden(*(("u", -offset, 0.1) for offset in range(5, 30)))
    drains = drains_of(drain("u", -30))
    booked = on_oil(drains, usage, ridden(("u", -2, 12.0), ("u", -40, 7.0), ("u", 3, 5.0)))["u"]
    assert booked["unknown_h"] == 12.0
    assert booked["hours_on_oil_basis"] == "estimated"


def test_a_unit_without_a_drain_counts_all_it_rode_and_without_riding_nothing_is_known():
    usage = ridden(*(("new", -offset, 2.0) for offset in range(3)), ("u", 0, 1.0))
    units = register({"unit_key": "new", "site": "north"}, {"unit_key": "empty", "site": "north"})
    found = on_oil(drains_of(drain("u", -5)), usage, units=units)
    assert found["new"]["hours_on_oil"] == pytest.approx(6.0)
    assert found["new"]["hours_on_oil_basis"] == "estimated"
    assert found["empty"]["hours_on_oil"] is None


def test_no_rate_at_all_leaves_the_hours_unknown_but_a_drain_today_is_nought():
    assert on_oil(drains_of(drain("u", -5)))["u"]["hours_on_oil"] is None
    assert on_oil(drains_of(drain("u", 0)))["u"]["hours_on_oil"] == 0.0


def test_a_day_logged_without_hours_makes_the_hours_an_estimate():
    usage = ridden(("u", -3, 4.0), ("u", -1, None), ("u", 0, 1.0))
    found = on_oil(drains_of(drain("u", -5)), usage)["u"]
    assert found["hours_on_oil"] > 5.0 + 3.9
    assert found["hours_on_oil_basis"] == "estimated"
