"""Wear and parts of every unit in one night: what the ledger keeps of them, entered and read back."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import astuple, dataclass, fields
from datetime import date
from typing import Any

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.tables.csv_tables import DECIMALS


@dataclass(frozen=True, slots=True)
class WearFacts:
    """One measured quantity of one unit; hours on its clock [h], None where not known or beyond what was measured.

    limit : in words, None where none is set;  last_bound : "under" or "over" where the latest reading is only known
    to be that;  clock_now : hours at the start of the oil that runs now
    meets_h, meets_low_h, meets_high_h : hours at which the unit's line meets the limit, 50, 5 and 95 % points
    allowed_h : hours on the oil that runs now until a reading past the limit has the accepted chance
    """

    unit_id: str
    site: str | None
    quantity: str
    unit: str
    clock: str
    limit: str | None
    last_value: float | None
    last_bound: str | None
    last_on: date | None
    past_limit: bool
    clock_now: float | None
    meets_low_h: float | None
    meets_h: float | None
    meets_high_h: float | None
    allowed_h: float | None


@dataclass(frozen=True, slots=True)
class PartFacts:
    """One part with a life, in the columns of parts.csv that can change from night to night; hours [h]."""

    unit_id: str
    site: str | None
    part: str
    hours_now: float | None
    hours_left: float | None
    set_by: str | None
    due_on: date | None
    due_on_early: date | None
    due_on_late: date | None
    due_before: date | None
    visit_on: date | None


@dataclass(frozen=True, slots=True)
class WearAndParts:
    """Of every unit in one report; empty where nothing was measured and no table of parts was given."""

    wear: tuple[WearFacts, ...] = ()
    parts: tuple[PartFacts, ...] = ()


@dataclass(frozen=True, slots=True)
class WearPoint:
    """One report's row on one quantity of a unit."""

    as_of: date
    wear: WearFacts


@dataclass(frozen=True, slots=True)
class PartPoint:
    """One report's row on one part of a unit."""

    as_of: date
    part: PartFacts


def wear_and_parts(result: PlanResult) -> WearAndParts:
    """What the ledger keeps of a result: quantities that were measured in the unit or foreseen for it, and parts."""
    decided = result.decided
    quantities = () if decided.wear is None else decided.wear.quantities
    wear = tuple(
        WearFacts(
            unit.unit_id, unit.site, quantity.title, quantity.unit, quantity.clock,
            None if quantity.limit is None else quantity.limit.label,
            _rounded(unit.last_value), unit.last_bound, unit.last_on, bool(unit.past_limit),
            *map(_rounded, (unit.clock_now, unit.line_low, unit.line_middle, unit.line_high, unit.allowed_h)),
        )
        for quantity in quantities
        for unit in quantity.units
        if unit.last_value is not None or unit.wear_hours is not None
    )  # fmt: skip
    names = [field.name for field in fields(PartFacts)]
    rows = () if decided.parts is None else decided.parts.select(names).iter_rows()
    parts = tuple(PartFacts(*map(_rounded, row)) for row in rows)
    return WearAndParts(wear, parts)


def enter_wear_and_parts(ledger: sqlite3.Connection, run_id: int, measured: WearAndParts) -> None:
    """Record a night's wear and parts, in the caller's transaction."""
    _enter(ledger, "wear", run_id, measured.wear)
    _enter(ledger, "parts", run_id, measured.parts)


def wear_history(ledger: sqlite3.Connection, unit_id: str) -> list[WearPoint]:
    """Each measured quantity of the unit in every report, oldest first."""
    return [WearPoint(as_of, WearFacts(**row)) for as_of, row in _history(ledger, "wear", "quantity", unit_id)]


def parts_history(ledger: sqlite3.Connection, unit_id: str) -> list[PartPoint]:
    """Each part of the unit in every report, oldest first."""
    return [PartPoint(as_of, PartFacts(**row)) for as_of, row in _history(ledger, "parts", "part", unit_id)]


def _enter(ledger: sqlite3.Connection, table: str, run_id: int, rows: Iterable[WearFacts | PartFacts]) -> None:
    width = 1 + len(fields(WearFacts if table == "wear" else PartFacts))
    ledger.executemany(
        f"INSERT INTO {table} VALUES ({', '.join('?' * width)})",
        ((run_id, *(cell.isoformat() if isinstance(cell, date) else cell for cell in astuple(row))) for row in rows),
    )


def _history(
    ledger: sqlite3.Connection, table: str, name: str, unit_id: str
) -> Iterable[tuple[date, dict[str, Any]]]:
    """Day and columns of each row, of several runs on the same inputs only the last."""
    cursor = ledger.execute(
        f"SELECT runs.as_of, {table}.* FROM {table} JOIN runs USING (run_id) WHERE unit_id = ? AND run_id IN "
        f"(SELECT max(run_id) FROM runs WHERE status = 'good' GROUP BY digest) ORDER BY site, {name}, run_id",
        (unit_id,),
    )
    columns = [item[0] for item in cursor.description]
    for cells in cursor:
        row = dict(zip(columns, cells, strict=True))
        as_of = date.fromisoformat(row.pop("as_of"))
        del row["run_id"]
        days = ("last_on", "due_on", "due_on_early", "due_on_late", "due_before", "visit_on")
        row |= {day: date.fromisoformat(row[day]) for day in days if row.get(day)}
        yield as_of, row | ({"past_limit": bool(row["past_limit"])} if table == "wear" else {})


def _rounded(value: Any) -> Any:
    return round(value, DECIMALS) + 0.0 if isinstance(value, float) else value
