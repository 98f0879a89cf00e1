"""What comes after the work list: changes of the next days, also of units that are on it, and the oil for them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from draincurve.pipeline.deciding import PlannedRide, changes_after
from draincurve.reports.content import wording
from draincurve.reports.content.oil_to_have import oil_by_site
from draincurve.reports.content.service_rows import ServiceRow
from draincurve.reports.content.work_text import Amount

MOST_LATER = 12
"""Changes named that come after the list; the others are counted."""


@dataclass(frozen=True, slots=True)
class LaterChange:
    """One change of oil after the list; when : its day in words; site : may be empty; litres : None if not known."""

    day: date
    when: str
    name: str
    site: str
    oil: str | None
    litres: float | None


def changes_again(
    row: ServiceRow, amount: Amount, rides: Sequence[PlannedRide], *, farthest: date
) -> list[LaterChange]:
    """Further changes of a unit on the list that its booked rides need, up to a day.

    rides : of the unit, in order. An interval that wear sets is not one that fresh oil begins anew.
    """
    if row.interval_h is None or row.set_by == "wear":
        return []
    first = None if row.due_now else row.act_by
    ahead = [ride for ride in rides if first is None or ride.starts_on >= first]
    return [
        LaterChange(
            day,
            f"before {wording.weekday(day, day)}",
            f"{row.name} again",
            row.site or "",
            row.oil_grade,
            amount.litres,
        )
        for day in changes_after(row.interval_h, ahead)
        if day <= farthest
    ]


def later_text(changes: Sequence[LaterChange]) -> str:
    """The changes day by day, then their oil; empty without any."""
    if not changes:
        return ""
    ordered = sorted(changes, key=lambda change: change.day)
    days: dict[str, list[str]] = {}
    for change in ordered[:MOST_LATER]:
        days.setdefault(change.when, []).append(change.name)
    named = "; ".join(f"{when} {wording.listed(units)}" for when, units in days.items())
    more = f"; {len(ordered) - MOST_LATER} more" if len(ordered) > MOST_LATER else ""
    oil = oil_by_site((change.site, change.oil, change.litres) for change in ordered)
    return f"After that: {named}{more}. Oil for these: {oil}."
