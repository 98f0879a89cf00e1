"""The next ride: on which units work is due before it, and on which none."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date

from draincurve.pipeline.deciding import PlannedRide
from draincurve.reports.content import wording
from draincurve.reports.content.sections.work_order import natural
from draincurve.reports.content.service_rows import ServiceRow

MOST_NAMED = 12
"""Units named in one sentence; of more, only how many they are."""
LOOK = "No work due does not mean fit: look at every unit before it rides."


def next_ride_text(
    rows: Sequence[ServiceRow],
    rides: Mapping[str, Sequence[PlannedRide]] | None,
    asked: Collection[str],
    *,
    as_of: date,
    until: date,
) -> str:
    """Sentences on the next booked day after today, or on the days up to `until` in a fleet without bookings.

    rides : as `planned_rides` gives them.  asked : units on the work list; so is what is due by that day.
    """
    if not rows:
        return ""
    if rides is None:
        riding, day = list(rows), until
        words, limit = "No ride is booked.", f"by {wording.weekday(until, as_of)}"
    else:
        days = {
            row.name: next((ride.starts_on for ride in rides.get(row.name, ()) if ride.starts_on > as_of), None)
            for row in rows
        }
        day = min((ride_day for ride_day in days.values() if ride_day is not None), default=until)
        riding = [row for row in rows if days[row.name] == day]
        if not riding:
            return ""
        words = f"Next ride: {wording.weekday(day, as_of)}, {wording.counted(len(riding), 'unit')} booked."
        limit = "before it"
    free = [row.name for row in riding if row.name not in asked and row.act_by is not None and row.act_by > day]
    first = [row.name for row in riding if row.name not in free]
    if not first:
        return f"{words} No work is due {limit} on {_names_or_count(free)}. {LOOK}"
    none = f"; none on {_names_or_count(free)}" if free else ""
    return f"{words} Work is due {limit} on {_names_or_count(first)}{none}. {LOOK}"


def _names_or_count(names: Sequence[str]) -> str:
    return wording.listed(sorted(names, key=natural)) if len(names) <= MOST_NAMED else f"{len(names)} units"
