"""The headline: what to inspect, what is due and what is due soon, each unit counted once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from draincurve.reports.content import wording
from draincurve.reports.content.fleet_counts import SOON_DAYS, FleetCounts
from draincurve.reports.content.freshness import Freshness
from draincurve.reports.content.sections.work_list import WorkList
from draincurve.reports.content.service_rows import ServiceRow

_UNKNOWN_HOURS = ("counts as due, hours not known", "count as due, hours not known")


def headline(counts: FleetCounts, work: WorkList | None, inspect: int, *, as_of: date) -> str:
    """What to do: first the units of the work list, then those due later in the week.

    work : None where it does not list every unit of the fleet.  inspect : how many units to inspect
    """
    if not counts.units:
        return "No unit is in service."
    parts_only = 0 if work is None else work.parts_only
    said = [f"Inspect {wording.counted(inspect, 'unit')} now."] if inspect else []
    for count, one, many in (
        (counts.more_now - counts.more_unknown, "is due now", "are due now"),
        (counts.more_unknown, *_UNKNOWN_HOURS),
        (parts_only, "has parts due now", "have parts due now"),
    ):
        if count:
            said.append(f"{_units(count, more=bool(said))} {wording.plural(count, one, many=many)}.")
    due_now = bool(counts.more_now or parts_only)
    said.extend(_soon(counts, work, more=bool(said), due_said=due_now, as_of=as_of))
    if counts.more_undated:
        others = wording.counted(counts.more_undated, "other unit" if inspect else "unit")
        said.append(f"No date is known for {others}.")
    return " ".join(said)


def outdated_headline(fresh: Freshness, listed: Sequence[ServiceRow], signs: Mapping[str, str]) -> str:
    """What to inspect, the question about the log, and what is due whatever was not written.

    signs : of the units to inspect, by name
    """
    inspect = (f"Inspect {wording.counted(len(signs), 'unit')} now.",) if signs else ()
    now = sum(row.due_now and row.name not in signs for row in listed)
    are = wording.plural(now, "is", many="are")
    due = (f"{_units(now, more=bool(signs))} {are} due now by what is logged.",) if now else ()
    return " ".join((*inspect, fresh.question, *due))


def _soon(counts: FleetCounts, work: WorkList | None, *, more: bool, due_said: bool, as_of: date) -> list[str]:
    """What is due within the week: for the next ride, as far as it is on the work list, and after that.

    more : whether other units are said before.  due_said : whether they are said to be due
    """
    week = wording.weekday(as_of + timedelta(days=SOON_DAYS), as_of)
    soon = counts.more_soon - (0 if work is None else work.parts_only_soon)
    if not soon:
        nothing = f"No unit is known to be due by {week}." if counts.more_undated else f"Nothing is due by {week}."
        return [] if more else [nothing]
    until = f"before {week}" if counts.more_booked else "within a week"
    first = soon
    if work is not None and 0 < work.before < soon:
        first = work.before
        until = f"before {work.until}, {wording.grouped(soon - first)} more {until}"
    verb = "" if due_said else f" {wording.plural(first, 'is', many='are')} due"
    return [f"{_units(first, more=more)}{verb} {until}."]


def _units(count: int, *, more: bool) -> str:
    return f"{wording.grouped(count)} more" if more else wording.counted(count, "unit")
