"""Reports in short, made by hand."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

from draincurve.nightly.report_facts import ReportFacts, TableFacts, UnitFacts
from draincurve.reports.content.report_changes import HeldBackRow, UnitName

DAY = date(2026, 6, 20)
CALM = UnitFacts(
    unit_id="F01",
    site="North",
    drains=6,
    hours_on_oil=4.0,
    interval_h=12.0,
    interval_low_h=9.1,
    interval_high_h=16.3,
    set_by="colour",
    hours_left=8.0,
    due_on=date(2026, 7, 20),
    due_before=None,
    risk_now=0.02,
    hours_ratio=1.02,
    standing="with the fleet",
    turned=False,
)


def unit(unit_id: str = "F01", **changed: object) -> UnitFacts:
    return replace(CALM, unit_id=unit_id, **changed)


def held(line: int, cells: dict[str, object], source: str = "log.csv") -> tuple[str, HeldBackRow]:
    return "drains", HeldBackRow(source, line, "colour_rating", "9", "not a rating", json.dumps(cells))


def facts(
    *units: UnitFacts,
    as_of: date = DAY,
    tables: dict[str, int] | None = None,
    held_back: tuple = (),
    signs: dict[UnitName, str] | None = None,
    settings: dict[str, object] | None = None,
    versions: dict[str, str] | None = None,
) -> ReportFacts:
    rows = {"drains": 40} if tables is None else tables
    return ReportFacts(
        as_of=as_of,
        units=units or (CALM,),
        tables=tuple(TableFacts(name, f"{name}.csv", "ab" * 32, read, read, 0) for name, read in rows.items()),
        held_back=held_back,
        signs=signs or {},
        settings={"step_h": 0.5} | (settings or {}),
        versions=versions or {"python": "3.11.2"},
    )
