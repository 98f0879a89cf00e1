"""The next ride: on which units work is due before it, and on which none."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from draincurve.reports.content import wording
from draincurve.reports.content.sections.work_order import natural
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.reports.content.work_text import BEFORE

MOST_NAMED = 12
"""Units named in one sentence; of more, only how many they are."""
LOOK = "No work due does not mean fit: look at every unit before it rides."


def next_ride_text(rows: Sequence[ServiceRow], words: Mapping[str, str], *, as_of: date, until: date) -> str:
    """Sentences on the next booked day, or on the days up to `until` in a fleet without bookings.

    A ride of today is the next one until the usage shows that day.  words : of the units on the work list, by name; a
    unit that is due by the day of the ride is asked for too.
    """
    if not rows:
        return ""
    if not rows[0].rides_booked:
        return f"No ride is booked. {_without_bookings(rows, words, until=wording.weekday(until, as_of))} {LOOK}"
    day = min((row.next_ride for row in rows if row.next_ride is not None), default=None)
    if day is None:
        return ""
    riding = [row for row in rows if row.next_ride == day]
    ride = "Ride today" if day == as_of else "Next ride"
    booked = f"{ride}: {wording.weekday(day, as_of)}, {wording.counted(len(riding), 'unit')} booked."
    free = [row.name for row in riding if row.name not in words and row.act_by is not None and row.act_by > day]
    first = [row.name for row in riding if row.name not in free]
    if not first:
        return f"{booked} No work is due before it on {_names_or_count(free)}. {LOOK}"
    none = f"; none on {_names_or_count(free)}" if free else ""
    return f"{booked} Work is due before it on {_names_or_count(first)}{none}. {LOOK}"


def _without_bookings(rows: Sequence[ServiceRow], words: Mapping[str, str], *, until: str) -> str:
    """What is due now, what by the last day of the list, and on which units nothing is."""
    now = [row.name for row in rows if words.get(row.name, BEFORE) != BEFORE]
    later = [row.name for row in rows if words.get(row.name) == BEFORE]
    free = [row.name for row in rows if row.name not in words]
    if len(free) == len(rows):
        return f"No work is due by {until} on {_names_or_count(free)}."
    due = [f"{when} on {_names_or_count(names)}" for when, names in (("now", now), (f"by {until}", later)) if names]
    none = f"; none on {_names_or_count(free)}" if free else ""
    return f"Work is due {'; '.join(due)}{none}."


def _names_or_count(names: Sequence[str]) -> str:
    return wording.listed(sorted(names, key=natural)) if len(names) <= MOST_NAMED else f"{len(names)} units"
