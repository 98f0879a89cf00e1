"""Rides that are booked, and the changes of oil that they ask for one after the other."""

from __future__ import annotations

from datetime import date, timedelta

import polars as pl

from draincurve.pipeline.deciding.booked_rides import PlannedRide, changes_after, planned_rides

AS_OF = date(2026, 6, 20)


def day(ahead: int) -> date:
    return AS_OF + timedelta(days=ahead)


def rides(*hours: float) -> list[PlannedRide]:
    return [PlannedRide(day(ahead), one) for ahead, one in enumerate(hours, start=1)]


def test_hours_add_up_until_the_next_ride_would_go_over() -> None:
    assert changes_after(5.0, rides(2.0, 2.0, 2.0, 2.0, 2.0)) == (day(3), day(5))
    assert changes_after(4.0, rides(2.0, 2.0)) == ()
    assert changes_after(1.0, rides(2.0, 2.0, 0.5)) == (day(2), day(3)), (
        "a ride longer than the interval is not split"
    )
    assert changes_after(0.0, rides(1.0, 1.0)) == (day(2),)
    assert changes_after(8.0, []) == ()


def test_rides_are_those_still_to_come_in_order_and_unknown_hours_are_a_ride() -> None:
    bookings = pl.DataFrame(
        {
            "unit_key": ["A", "A", "B", "A", "C"],
            "date": [day(7), day(1), day(2), day(-1), day(3)],
            "hours": [2.0, 1.0, None, 4.0, 0.0],
        }
    )
    found = planned_rides(None, bookings, AS_OF)
    assert found is not None
    assert found["A"] == (PlannedRide(day(1), 1.0), PlannedRide(day(7), 2.0))
    assert [ride.starts_on for ride in found["B"]] == [day(2)]
    assert found["B"][0].hours >= 4.0, "hours that are not known count as the longest that is"
    assert "C" not in found, "a booking of no hours is no ride"
    assert planned_rides(None, None, AS_OF) is None
    assert planned_rides(None, bookings.filter(pl.col("date") < AS_OF), AS_OF) is None
