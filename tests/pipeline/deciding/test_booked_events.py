"""Booked events: what is one event, which are still to come, and which one the hours left do not reach."""

from __future__ import annotations

import polars as pl
import pytest
from fleet_frames import AS_OF, day, ridden

from draincurve.pipeline.deciding.booked_events import EVENT_SCHEMA, booked_events, first_event_over
from draincurve.pipeline.deciding.riding_rates import RIDING_DAY_H


def events_of(bookings: pl.DataFrame | None, usage: pl.DataFrame | None = None) -> list[tuple]:
    days = ridden() if usage is None else usage
    found = booked_events(bookings, days.select("unit_key", "date", "hours"), AS_OF)
    assert dict(found.schema) == EVENT_SCHEMA
    return found.rows()


def units(**left: float | None) -> pl.DataFrame:
    return pl.DataFrame(
        {"unit_key": list(left), "hours_left": list(left.values())},
        schema={"unit_key": pl.String, "hours_left": pl.Float64},
    )


def first_over(left: float | None, *events: tuple[int, float]) -> tuple:
    """due_before, hours_after, booked_until of one unit with events (day, hours)."""
    booked = booked_events(ridden(*(("u", at, hours) for at, hours in events)), ridden(), AS_OF)
    (row,) = first_event_over(units(u=left), booked).rows()
    assert row[0] == "u"
    return row[1:]


def test_no_bookings_are_no_events():
    assert events_of(None) == []
    assert events_of(ridden()) == []


def test_what_is_past_is_no_event_and_what_is_today_is_one_until_it_was_ridden():
    booked = ridden(("u", -1, 3.0), ("u", 0, 4.0), ("v", 0, 5.0))
    assert events_of(booked) == [("u", AS_OF, AS_OF, 4.0), ("v", AS_OF, AS_OF, 5.0)]
    assert events_of(booked, ridden(("u", 0, 0.5))) == [("v", AS_OF, AS_OF, 5.0)]
    assert len(events_of(booked, ridden(("u", -1, 0.5)))) == 2


def test_rows_of_one_day_are_one_event():
    assert events_of(ridden(("u", 3, 1.5), ("u", 3, 2.0), ("v", 3, 4.0))) == [
        ("u", day(3), day(3), 3.5),
        ("v", day(3), day(3), 4.0),
    ]


@pytest.mark.parametrize(
    ("offsets", "names", "spans"),
    [
        ((3, 4, 5), ("cup", "cup", "cup"), [(3, 5)]),
        ((3, 4, 6), ("cup", "cup", "cup"), [(3, 4), (6, 6)]),
        ((3, 4, 5), ("cup", "trial", "cup"), [(3, 3), (4, 4), (5, 5)]),
        ((3, 4, 5), (None, None, "cup"), [(3, 3), (4, 4), (5, 5)]),
        ((3, 3, 4), (None, "cup", "cup"), [(3, 4)]),
    ],
)
def test_days_that_follow_each_other_are_one_event_where_their_name_says_so(offsets, names, spans):
    booked = ridden(*(("u", offset, 2.0) for offset in offsets)).with_columns(event=pl.Series(names, dtype=pl.String))
    assert [(start, end) for _, start, end, _ in events_of(booked)] == [(day(a), day(b)) for a, b in spans]


def test_units_do_not_share_an_event():
    booked = ridden(("u", 3, 2.0), ("v", 4, 2.0)).with_columns(event=pl.lit("cup"))
    assert events_of(booked) == [("u", day(3), day(3), 2.0), ("v", day(4), day(4), 2.0)]


def test_events_come_in_the_order_of_their_days():
    assert [row[1] for row in events_of(ridden(("u", 9, 1.0), ("u", 2, 1.0), ("u", 5, 1.0)))] == [
        day(2),
        day(5),
        day(9),
    ]


@pytest.mark.parametrize(
    ("booked", "ridden_h", "taken"),
    [
        (9.5, 7.0, 9.5),
        (3.0, 8.5, 8.5),
        (0.5, 0.25, RIDING_DAY_H),
        (None, None, RIDING_DAY_H),
    ],
)
def test_an_event_without_hours_is_as_long_as_any_that_is_known(booked, ridden_h, taken):
    """At least a full day of riding, for what is not known is never short."""
    usage = ridden() if ridden_h is None else ridden(("v", -4, ridden_h))
    known = [] if booked is None else [("v", 8, booked)]
    assert events_of(ridden(("u", 3, None), *known), usage)[0] == ("u", day(3), day(3), taken)


@pytest.mark.parametrize(
    ("left", "before"),
    [(3.0, 5), (3.999, 5), (4.0, 9), (4.5, 9), (10.0, None), (9.999, 9), (0.0, 5), (-2.0, 5), (None, 5)],
)
def test_the_first_event_that_the_hours_left_do_not_last_for(left, before):
    """Events of 4 h and 6 h: hours cannot be split inside one."""
    found = first_over(left, (5, 4.0), (9, 6.0))
    assert found[0] == (None if before is None else day(before))


def test_hours_after_all_events_and_their_last_day():
    assert first_over(10.5, (5, 4.0), (9, 6.0)) == (None, 0.5, day(9))
    assert first_over(7.0, (5, 4.0), (9, 6.0)) == (day(9), -3.0, day(9))
    assert first_over(7.0) == (None, 7.0, None)
    assert first_over(None, (5, 4.0)) == (day(5), None, day(5))


@pytest.mark.parametrize(
    ("left", "hours", "before"), [(None, 0.5, 5), (0.5, 0.75, 5), (0.75, 0.75, None), (0.0, 0.0, 5)]
)
def test_less_than_an_hour_counts_too(left, hours, before):
    """Unknown hours left are none, and where none are left the oil is due before any event, however short."""
    assert first_over(left, (5, hours))[0] == (None if before is None else day(before))


def test_hours_are_used_up_in_the_order_of_the_days_whatever_the_order_of_the_events():
    booked = booked_events(ridden(("u", 5, 4.0), ("u", 9, 6.0), ("v", 2, 1.0)), ridden(), AS_OF)
    found = first_event_over(units(u=7.0, v=3.0), booked.reverse())
    assert found.columns == ["unit_key", "due_before", "hours_after", "booked_until"]
    assert found.rows() == [("u", day(9), -3.0, day(9)), ("v", None, 2.0, day(2))]


def test_a_digit_behind_the_last_written_one_splits_no_event():
    assert first_over(0.3, (5, 0.1), (6, 0.2))[0] is None


def test_rows_keep_their_order_and_units_without_a_booking_their_hours():
    booked = booked_events(ridden(("c", 3, 2.0), ("a", 2, 1.0), ("x", 1, 9.0)), ridden(), AS_OF)
    found = first_event_over(units(c=1.0, b=5.0, a=9.0), booked)
    assert found.rows() == [
        ("c", day(3), -1.0, day(3)),
        ("b", None, 5.0, None),
        ("a", None, 8.0, day(2)),
    ]
