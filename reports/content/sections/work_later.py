"""What comes after the work list: work of the next days, also on units that are on it, and the oil for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from draincurve.pipeline.deciding import PlannedRide, changes_after
from draincurve.reports.content import wording
from draincurve.reports.content.oil_to_have import oil_by_site
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.reports.content.work_text import BEFORE, Amount, oil_is_changed

MOST_LATER = 12
"""Units named that come after the list; the others are counted."""


@dataclass(frozen=True, slots=True)
class LaterWork:
    """Work on one unit after the list.

    when : its day in words.  site : may be empty.  oil_changed : whether the oil is; else the unit is measured for
    wear.  litres : None if not known
    """

    day: date
    when: str
    name: str
    site: str
    oil: str | None
    litres: float | None
    oil_changed: bool


def later_change(row: ServiceRow, amount: Amount, *, as_of: date, accepted_risk: float) -> LaterWork:
    """The work on a unit that is not on the list, and has a date."""
    changed = oil_is_changed(row, change=BEFORE, accepted_risk=accepted_risk)
    name = row.name if changed else f"{row.name} (to measure for wear)"
    day = row.act_by or as_of
    return LaterWork(day, row.due_text(as_of), name, row.site or "", row.oil_grade, amount.litres, changed)


def later_again(row: ServiceRow, amount: Amount, day: date) -> LaterWork:
    """A change after a unit's next one; day : as `changes_again` gives it."""
    when = f"before {wording.weekday(day, day)}"
    return LaterWork(day, when, f"{row.name} again", row.site or "", row.oil_grade, amount.litres, oil_changed=True)


def changes_again(row: ServiceRow, rides: Sequence[PlannedRide], *, farthest: date) -> tuple[date, ...]:
    """First days of the booked rides before which a unit needs fresh oil again after its next change, up to a day.

    rides : of the unit, in order. An interval that wear sets is not one that fresh oil begins anew.
    """
    if row.interval_h is None or row.set_by == "wear":
        return ()
    first = None if row.due_now else row.act_by
    ahead = [ride for ride in rides if first is None or ride.starts_on >= first]
    return tuple(day for day in changes_after(row.interval_h, ahead) if day <= farthest)


def again_text(days: Sequence[date], as_of: date) -> str:
    """That a unit needs fresh oil again within the week; empty where it does not."""
    return f"again before {wording.listed([wording.weekday(day, as_of) for day in days])}" if days else ""


def later_text(works: Sequence[LaterWork]) -> str:
    """The work day by day, then the oil of its changes; empty without any."""
    if not works:
        return ""
    ordered = sorted(works, key=lambda work: work.day)
    days: dict[str, list[str]] = {}
    for work in ordered[:MOST_LATER]:
        days.setdefault(work.when, []).append(work.name)
    named = "; ".join(f"{when} {wording.listed(units)}" for when, units in days.items())
    more = f"; {len(ordered) - MOST_LATER} more" if len(ordered) > MOST_LATER else ""
    oil = oil_by_site((work.site, work.oil, work.litres) for work in ordered if work.oil_changed)
    return f"After that: {named}{more}.{f' Oil for these changes: {oil}.' if oil else ''}"
