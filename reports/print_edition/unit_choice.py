"""Which units have a section in print: all of a small fleet; of a large one those with a finding or due soon."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from draincurve.reports.content import wording
from draincurve.reports.content.fleet_counts import AHEAD_DAYS
from draincurve.reports.content.sections.drain_rows import DrainRow
from draincurve.reports.content.sections.unit_sections import UnitSection
from draincurve.schemas.next_service_table import FASTER, SLOWER

ALL_UP_TO = 40
MOST_DUE = 20
LATEST_DRAINS = 6


def units_to_print(units: Sequence[UnitSection], *, as_of: date) -> tuple[UnitSection, ...]:
    """Sections in their order, those of units without a drain last; of a large fleet only some of them.

    These are the units called, turned or to inspect, and those due soonest.
    """
    ordered = sorted(units, key=lambda unit: not unit.drains)
    if len(units) <= ALL_UP_TO:
        return tuple(ordered)
    soon = [unit.row.name for unit in units if _due_soon(unit, as_of=as_of)][:MOST_DUE]
    wanted = {*soon, *(unit.row.name for unit in units if _has_finding(unit))}
    return tuple(unit for unit in ordered if unit.row.name in wanted)


def drains_to_print(unit: UnitSection, *, units: int) -> tuple[DrainRow, ...]:
    """A unit's drains, the latest first; only LATEST_DRAINS of a unit of a large fleet that has no finding."""
    return unit.drains if units <= ALL_UP_TO or _has_finding(unit) else unit.drains[:LATEST_DRAINS]


def choice_text(printed: Sequence[UnitSection], *, units: int) -> str:
    """In which order the sections are, and which units have none."""
    order = "Soonest due first"
    if printed and not printed[-1].drains:
        order = f"{order}; units without a drain come last"
    if len(printed) == units:
        return f"{order}."
    return (
        f"{order}. Of {wording.counted(units, 'unit')} in service, {len(printed)} have a section here: those faster "
        f"or slower than the fleet, turned, or to inspect now, and up to {MOST_DUE} that are due within {AHEAD_DAYS} "
        "days. Every unit is in the table of all units, and has its section in report.html."
    )


def _has_finding(unit: UnitSection) -> bool:
    return unit.row.standing in (FASTER, SLOWER) or unit.row.turned or bool(unit.inspect)


def _due_soon(unit: UnitSection, *, as_of: date) -> bool:
    act_by = unit.row.act_by
    return unit.row.due_now or (act_by is not None and act_by <= as_of + timedelta(days=AHEAD_DAYS))
