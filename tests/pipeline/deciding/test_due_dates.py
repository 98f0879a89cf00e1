from __future__ import annotations

from datetime import timedelta

import numpy as np
import polars as pl
import pytest
from fleet_frames import AS_OF, day, ridden, riding_of
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.deciding.booked_events import booked_events
from draincurve.pipeline.deciding.due_dates import DATE_COLUMNS, FARTHEST_DAYS, DueFrom, due_dates
from draincurve.pipeline.deciding.riding_rates import known_usage


def unit(left: float | None = 10.0, rate: float | None = 1.0, **other: object) -> pl.DataFrame:
    row: dict[str, object] = {
        "unit_key": "u", "interval_h": 20.0,
        "hours_on_oil": None if left is None else 20.0 - left, "hours_left": left,
        "last_drained_on": day(-10), "oil_days": None, "hours_per_day": rate,
        "rate_variance": None if rate is None else 0.0, "day_variance": None if rate is None else rate,
    }  # fmt: skip
    schema = dict.fromkeys(row, pl.Float64) | {"unit_key": pl.String, "last_drained_on": pl.Date}
    return pl.DataFrame([row | other], schema=schema)


def dated(units: pl.DataFrame, bookings: pl.DataFrame | None = None, usage: pl.DataFrame | None = None):
    table = due_dates(
        units, booked_events(bookings, known_usage(usage, AS_OF), AS_OF), riding_of(units, usage), AS_OF
    )
    assert tuple(table.columns) == DATE_COLUMNS
    return table.row(0, named=True)


@pytest.mark.parametrize(("left", "offset"), [(9.0, 4), (1.0, 0), (0.1, 0), (19.9, 9)])
def test_the_date_is_the_last_whole_day_before_the_hours_are_ridden(left, offset):
    """Steady riding of 2 h a day: 9 h are over in the midst of the fifth day, so four days may pass and no fifth.

    The day on which they run out is the late end.
    """
    found = dated(unit(left, 2.0, day_variance=0.0))
    assert found["due_on_early"] == found["due_on"] == day(offset)
    assert found["due_on_late"] == day(offset + 1)
    assert found["due_from"] == DueFrom.RIDING
    assert found["due_before"] is None


def test_hours_that_are_just_used_up_are_overdue():
    assert dated(unit(0.0))["due_from"] == DueFrom.OVERDUE
    assert dated(unit(0.1))["due_from"] == DueFrom.RIDING


def test_lumpy_riding_has_a_range_about_the_median():
    found = dated(unit(10.0, 1.0, day_variance=4.0))
    assert found["due_on_early"] < found["due_on"] < found["due_on_late"]
    assert found["due_on"] <= day(10)


@given(st.floats(-5, 60), st.floats(0, 20), st.floats(0.01, 5), st.floats(0, 30), st.floats(0, 2))
def test_more_hours_on_the_oil_never_give_a_later_date(left, more, rate, spread, doubt):
    bookings = ridden(("u", 3, 4.0), ("u", 9, 6.0), ("u", 10, 2.0))
    for booked in (None, bookings):
        given_rate = {"rate": rate, "day_variance": spread, "rate_variance": doubt}
        before, after = dated(unit(left, **given_rate), booked), dated(unit(left - more, **given_rate), booked)
        for name in ("due_on_early", "due_on", "due_on_late"):
            assert after[name] <= before[name]


@given(st.floats(0.1, 40), st.lists(st.tuples(st.integers(0, 30), st.floats(0.5, 12)), min_size=1, max_size=6))
def test_an_event_is_never_split(left, events):
    bookings = ridden(*(("u", offset, hours) for offset, hours in events))
    found = dated(unit(left), bookings)
    used = 0.0
    for offset in sorted({offset for offset, _ in events}):
        used += sum(hours for at, hours in events if at == offset)
        if used > left + 1e-6:
            assert found["due_before"] == found["due_on"] == day(offset)
            return
    assert found["due_before"] is None
    assert found["due_on"] >= max(day(offset) for offset, _ in events)


@given(st.floats(0.1, 40), st.lists(st.floats(0.5, 12), min_size=2, max_size=6), st.data())
def test_blanking_a_bookings_hours_never_moves_the_date_later(left, hours, data):
    longest = max(range(len(hours)), key=hours.__getitem__)
    blank = data.draw(st.sampled_from([i for i in range(len(hours)) if i != longest]))
    whole = ridden(*(("u", 2 * i, h) for i, h in enumerate(hours)))
    holed = ridden(*(("u", 2 * i, None if i == blank else h) for i, h in enumerate(hours)))
    assert dated(unit(left), holed)["due_on"] <= dated(unit(left), whole)["due_on"]


def test_days_of_one_named_event_that_follow_each_other_are_one_event():
    weekend = ridden(("u", 5, 3.0), ("u", 6, 3.0), ("u", 7, 3.0), ("u", 30, 1.0)).with_columns(
        event=pl.Series(["cup", "cup", "cup", "cup"])
    )
    events = booked_events(weekend, known_usage(None, AS_OF), AS_OF)
    assert events.select("starts_on", "ends_on", "hours").rows() == [(day(5), day(7), 9.0), (day(30), day(30), 1.0)]
    assert dated(unit(7.0), weekend)["due_before"] == day(5)
    assert dated(unit(7.0), weekend.drop("event"))["due_before"] == day(7)


def test_a_booking_of_today_counts_until_the_usage_shows_it():
    today = ridden(("u", 0, 12.0))
    assert dated(unit(10.0), today)["due_before"] == AS_OF
    assert dated(unit(10.0), today, ridden(("u", 0, 11.0)))["due_before"] is None


def test_what_is_overdue_is_due_today_and_before_the_next_event():
    found = dated(unit(-2.0), ridden(("u", 4, 1.0), ("u", 8, 1.0)))
    assert found["due_on"] == found["due_on_early"] == found["due_on_late"] == AS_OF
    assert found["due_before"] == day(4)
    assert found["due_from"] == DueFrom.OVERDUE


def test_the_oils_age_ends_a_later_date_and_gives_one_where_hours_give_none():
    old = dated(unit(500.0, oil_days=30.0))
    assert old["due_on"] == old["due_on_late"] == day(20)
    assert old["due_from"] == DueFrom.OIL_AGE
    no_rate = dated(unit(10.0, rate=None, oil_days=30.0))
    assert no_rate["due_on"] == day(20)
    assert no_rate["due_from"] == DueFrom.OIL_AGE
    assert dated(unit(5.0, oil_days=300.0))["due_from"] == DueFrom.RIDING
    assert dated(unit(500.0, oil_days=5.0))["due_on"] == AS_OF, "oil past its age is due today, not in the past"


def test_a_part_of_a_day_never_makes_oil_live_longer():
    assert dated(unit(500.0, oil_days=30.9))["due_on"] == day(20)


def test_where_hours_and_age_end_on_one_day_the_hours_are_named():
    steady = {"rate": 1.0, "day_variance": 0.0}
    for oil_days, named in ((13.0, DueFrom.OIL_AGE), (14.0, DueFrom.RIDING), (15.0, DueFrom.RIDING)):
        found = dated(unit(4.5, oil_days=oil_days, **steady))
        assert (found["due_on"], found["due_from"]) == (day(min(4, int(oil_days) - 10)), named)


def test_age_shortens_the_late_end_of_a_range_alone():
    free = dated(unit(10.0, 1.0, day_variance=4.0))
    between = (free["due_on_late"] - day(-10)).days - 1
    aged = dated(unit(10.0, 1.0, day_variance=4.0, oil_days=float(between)))
    assert (aged["due_on_early"], aged["due_on"]) == (free["due_on_early"], free["due_on"])
    assert aged["due_on_late"] == free["due_on_late"] - timedelta(days=1)
    assert aged["due_from"] == DueFrom.RIDING


def test_no_rate_is_no_date_with_a_reason_never_a_far_date():
    found = dated(unit(10.0, rate=None))
    assert found["due_on"] is None
    assert found["due_from"] == DueFrom.NO_RATE
    assert dated(unit(10.0, rate=0.0))["due_on"] is None
    assert dated(unit(0.5, rate=0.0))["due_on"] is None, "however few hours are left"
    no_interval = dated(unit(None, interval_h=None, hours_on_oil=4.0))
    assert (no_interval["due_on"], no_interval["due_from"]) == (None, DueFrom.NO_INTERVAL)


def test_hours_that_nobody_knows_are_due_before_the_next_event():
    found = dated(unit(None, rate=None), ridden(("u", 6, 2.0)))
    assert found["due_before"] == found["due_on"] == day(6)
    assert dated(unit(None, rate=None))["due_from"] == DueFrom.NO_HOURS


def test_a_unit_whose_oil_is_unknown_is_due_now():
    found = dated(unit(None, last_drained_on=None), ridden(("u", 6, 2.0)))
    assert (found["due_on"], found["due_from"]) == (AS_OF, DueFrom.UNKNOWN_OIL)


def test_a_unit_that_hardly_runs_has_no_date_beyond_the_farthest():
    assert dated(unit(1e5, rate=1e-3))["due_on"] == AS_OF + timedelta(days=FARTHEST_DAYS)


def test_after_the_bookings_riding_goes_on_from_their_last_day():
    bookings = ridden(("u", 10, 4.0), ("u", 20, 4.0))
    found = dated(unit(17.5, 1.0, day_variance=0.0), bookings)
    assert found["due_on_early"] == found["due_on"] == day(29)
    assert found["due_on_late"] == day(30)


def test_bookings_that_use_up_every_hour_end_the_oil_on_their_last_day():
    found = dated(unit(8.0, 1.0), ridden(("u", 10, 4.0), ("u", 20, 4.0)))
    assert found["due_before"] is None
    assert found["due_on_early"] == found["due_on"] == found["due_on_late"] == day(20)
    assert found["due_from"] == DueFrom.RIDING
    today = dated(unit(8.0, 1.0), ridden(("u", 0, 8.0)))
    assert today["due_before"] is None
    assert today["due_on_early"] == today["due_on"] == today["due_on_late"] == AS_OF


@pytest.mark.parametrize("rate", [0.2, 3.0])
def test_many_units_at_once_give_what_each_gives_alone(rate):
    lefts = np.linspace(-3, 60, 40)
    rows = pl.concat([unit(float(left), rate).with_columns(unit_key=pl.lit(f"u{i}")) for i, left in enumerate(lefts)])
    bookings = ridden(*((f"u{i}", 5, 3.0) for i in range(0, 40, 2)))
    events = booked_events(bookings, known_usage(None, AS_OF), AS_OF)
    together = due_dates(rows, events, riding_of(rows), AS_OF)
    for i in range(40):
        assert due_dates(rows[i], events, riding_of(rows[i]), AS_OF).row(0) == together.row(i)
