"""The heading of the work list: how many units, and by when."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date, timedelta

from draincurve.reports.content import wording
from draincurve.reports.content.fleet_counts import SOON_DAYS
from draincurve.reports.content.sections.work_order import WorkJob
from draincurve.reports.content.work_text import BEFORE


def work_title(jobs: Sequence[WorkJob], days: Collection[date], *, as_of: date, booked: bool, estimated: bool) -> str:
    """How many units to see to before the day of the list; without bookings, how many now and how many later.

    days : of each site's list.  booked : whether any ride is.  estimated : whether units are not listed because only
    estimated hours call them due; then no day is named up to which there is nothing else to do.
    """
    if not jobs and estimated:
        return "Nothing listed: is the log out of date?"
    if not jobs:
        return "Nothing to do" if not days else f"Nothing to do until {_day_text(days, as_of)}"
    if not booked:
        return _without_bookings(jobs, until=wording.weekday(as_of + timedelta(days=SOON_DAYS), as_of))
    waiting = sum(job.waits for job in jobs)
    riding = len(jobs) - waiting
    again = f"before {wording.plural(waiting, 'it rides', many='they ride')} again"
    if not riding:
        return f"{wording.counted(waiting, 'unit')} to see to {again}"
    day = _day_text(() if estimated else days, as_of)
    before = f"{wording.counted(riding, 'unit')} to see to before {day}"
    return f"{before}, {wording.grouped(waiting)} more {again}" if waiting else before


def _without_bookings(jobs: Sequence[WorkJob], *, until: str) -> str:
    """What is due now is no work for the last day of the list, which is no ride's."""
    later = sum(job.line.word == BEFORE for job in jobs)
    now = len(jobs) - later
    if not now:
        return f"{wording.counted(later, 'unit')} to see to by {until}"
    more = f", {wording.grouped(later)} more by {until}" if later else ""
    return f"{wording.counted(now, 'unit')} to see to now{more}"


def _day_text(days: Collection[date], as_of: date) -> str:
    if not days:
        return "the next ride"
    first, last = min(days), max(days)
    if first == last:
        return "today's ride" if first == as_of else wording.weekday(first, as_of)
    return f"the next ride of each site ({wording.day_range(first, last, beside=as_of)})"
