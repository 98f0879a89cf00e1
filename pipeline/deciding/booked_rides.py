"""Rides that are booked, unit by unit, and the changes of oil that they need one after the other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import polars as pl

from draincurve.pipeline.deciding.booked_events import HOUR_SLACK, booked_events
from draincurve.pipeline.deciding.riding_rates import known_usage


@dataclass(frozen=True, slots=True)
class PlannedRide:
    """One booked event; hours [h] may be 0 for an event in which the unit is not ridden."""

    starts_on: date
    hours: float


def planned_rides(
    usage: pl.DataFrame | None, bookings: pl.DataFrame | None, as_of: date
) -> Mapping[str, tuple[PlannedRide, ...]] | None:
    """The rides still to come by unit_key, in order of date; None where nothing is booked at all.

    usage, bookings : accepted rows. Events are those of `booked_events`.
    """
    events = booked_events(bookings, known_usage(usage, as_of), as_of)
    if events.is_empty():
        return None
    rides: dict[str, list[PlannedRide]] = {}
    for key, day, hours in events.select("unit_key", "starts_on", "hours").iter_rows():
        if hours > 0.0:
            rides.setdefault(str(key), []).append(PlannedRide(day, hours))
    return {key: tuple(planned) for key, planned in rides.items()}


def changes_after(interval_h: float, rides: Sequence[PlannedRide]) -> tuple[date, ...]:
    """First days of the rides before which oil is changed again, if fresh oil starts before the first of them.

    interval_h : hours that the oil may run [h]. A ride is not split; one that is longer than the interval needs
    fresh oil before it and after it. An interval of 0 needs a change before every ride but the first.

    >>> from datetime import date
    >>> changes_after(3.5, [PlannedRide(date(2026, 6, 21), 2.0), PlannedRide(date(2026, 6, 27), 2.0)])
    (datetime.date(2026, 6, 27),)
    """
    changes = []
    used = 0.0
    for place, ride in enumerate(rides):
        if place and used + ride.hours > interval_h + HOUR_SLACK:
            changes.append(ride.starts_on)
            used = 0.0
        used += ride.hours
    return tuple(changes)
