"""The heading of the work list: how many units, and up to which day."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date

from draincurve.reports.content import wording
from draincurve.reports.content.sections.work_order import WorkJob


def work_title(jobs: Sequence[WorkJob], until: str, *, estimated: bool) -> str:
    """How many units the list has, which is the sum of what the headline counts up to the day of the list.

    until : as `until_text` gives it, empty where the list has no day.  estimated : whether units are not listed
    because only estimated hours call them due; then no day is named up to which there is nothing else to do.
    """
    if not jobs and estimated:
        return "nothing listed: is the log out of date?"
    if not jobs:
        return f"nothing to do until {until}" if until else "nothing to do"
    return f"{wording.counted(len(jobs), 'unit')} up to {'the next ride' if estimated or not until else until}"


def until_text(days: Collection[date], as_of: date) -> str:
    """The day up to which the list goes, of each site where they differ; empty without a site.

    days : of each site's list
    """
    if not days:
        return ""
    first, last = min(days), max(days)
    if first == last:
        return "today's ride" if first == as_of else wording.weekday(first, as_of)
    return f"the next ride of each site ({wording.day_range(first, last, beside=as_of)})"
