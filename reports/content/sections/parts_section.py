"""The section on parts whose life is limited: their hours, the first limit that they meet, and the visit for it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from typing import Any

import polars as pl

from draincurve.reports.content import wording
from draincurve.reports.content.unit_names import UnitNames, section_anchor

MOST_ROWS = 60


@dataclass(frozen=True, slots=True)
class PartRow:
    """One part of one unit, in words; anchor : empty for a unit without a section."""

    name: str
    anchor: str
    part: str
    hours: str
    hours_from: str
    life: str
    left: str
    set_by: str
    due: str
    due_range: str
    due_now: bool
    visit: str
    visit_with: str


@dataclass(frozen=True, slots=True)
class PartsSection:
    """Parts soonest due first; due_now : how many of all are.  more : about parts without a row."""

    rows: tuple[PartRow, ...]
    due_now: int
    more: str


def parts_section(
    parts: pl.DataFrame | None, names: UnitNames, *, in_service: Collection[str], as_of: date
) -> PartsSection | None:
    """The table of parts in words; None without one.

    parts : as schemas.parts_table has it.  in_service : names of the units that have a section.
    """
    if parts is None or not parts.height:
        return None
    more = parts.height - MOST_ROWS
    return PartsSection(
        tuple(
            _row(cells, names, in_service=in_service, as_of=as_of)
            for cells in parts.head(MOST_ROWS).iter_rows(named=True)
        ),
        due_now=int((parts["due_on"] <= as_of).sum()),
        more=f"{wording.counted(more, 'more part')} in parts.csv." if more > 0 else "",
    )


def _row(cells: dict[str, Any], names: UnitNames, *, in_service: Collection[str], as_of: date) -> PartRow:
    name, due = names.of(cells["unit_id"], cells["site"]), cells["due_on"]
    due_now, left = due is not None and due <= as_of, wording.finite_number(cells["hours_left"])
    over = left is not None and left < 0.0
    visit = cells["visit_on"]
    return PartRow(
        name=name,
        anchor=section_anchor(name, in_service),
        part=cells["part"],
        hours=wording.hours(wording.finite_number(cells["hours_now"])),
        hours_from=f"since the {cells['hours_from']}" if cells["hours_from"] != "at least the log's" else "at least",
        life=_life(cells),
        left=wording.UNKNOWN if left is None else f"{abs(left):.1f} h {'over' if over else 'left'}",
        set_by=cells["set_by"] or "nothing limits it",
        due=_due(cells, as_of=as_of),
        due_range="" if due_now else wording.day_range(cells["due_on_early"], cells["due_on_late"], beside=as_of),
        due_now=due_now,
        visit="" if visit is None else wording.day(visit, as_of),
        visit_with=f"with {cells['visit_with']}" if cells["visit_with"] else "",
    )


def _due(cells: dict[str, Any], *, as_of: date) -> str:
    """When to see to a part: now, before an event, by a day, or why there is no day."""
    due, before = cells["due_on"], cells["due_before"]
    if due is None:
        return "no date" if cells["set_by"] else ""
    if due <= as_of:
        return "due now"
    return f"before {wording.weekday(due, as_of)}" if due == before else f"by {wording.weekday(due, as_of)}"


def _life(cells: dict[str, Any]) -> str:
    """The maker's longest life in hours and days; empty where there is none."""
    hours, days = wording.finite_number(cells["max_hours"]), wording.finite_number(cells["max_days"])
    return " or ".join(
        part for part in ("" if hours is None else f"{hours:g} h", "" if days is None else f"{days:g} days") if part
    )
