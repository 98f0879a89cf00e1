"""Queries of the ledger: the last good night, the facts of a night, the history of a unit, trends."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from draincurve.nightly.ledger import RunStatus
from draincurve.nightly.night_clock import Moment
from draincurve.nightly.report_facts import ReportFacts, UnitFacts, facts_of_record, held_back_row, unit_facts

DISTINCT = "run_id IN (SELECT max(run_id) FROM runs WHERE status = 'good' GROUP BY digest)"
"""Of several runs on the same inputs, only the last."""


@dataclass(frozen=True, slots=True)
class LastGoodRun:
    """A good run; moment : when it began."""

    run_id: int
    digest: str
    folder: str
    exit_status: int
    moment: Moment


@dataclass(frozen=True, slots=True)
class HistoryPoint:
    """One report's row on one unit; signs : for which to inspect it, empty without one."""

    as_of: date
    unit: UnitFacts
    signs: str


@dataclass(frozen=True, slots=True)
class Trend:
    """A unit's interval over its reports [h]; None where a report had no interval."""

    unit_id: str
    site: str | None
    reports: int
    first_on: date
    first_h: float | None
    last_on: date
    last_h: float | None
    shortest_h: float | None
    longest_h: float | None

    @property
    def difference_h(self) -> float | None:
        """Change of the interval from the first report to the last [h]."""
        return None if self.first_h is None or self.last_h is None else self.last_h - self.first_h


def last_good_run(ledger: sqlite3.Connection) -> LastGoodRun | None:
    """The latest run that made a report."""
    row = _one(ledger, "SELECT * FROM runs WHERE status = ? ORDER BY run_id DESC LIMIT 1", RunStatus.GOOD)
    if row is None:
        return None
    return LastGoodRun(
        row["run_id"],
        row["digest"],
        row["folder"],
        row["exit_status"],
        Moment(datetime.fromisoformat(row["started"]), row["zone"], date.fromisoformat(row["clock_day"])),
    )


def ledger_state(ledger: sqlite3.Connection) -> dict[str, Any]:
    """The last run that ended and the last report, for monitoring; None where there is none."""
    ended = "SELECT status, started, ended, message FROM runs WHERE status != ? ORDER BY run_id DESC LIMIT 1"
    report = "SELECT as_of, folder, ended FROM runs WHERE status = ? ORDER BY run_id DESC LIMIT 1"
    return {"last_run": _one(ledger, ended, RunStatus.RUNNING), "last_report": _one(ledger, report, RunStatus.GOOD)}


def facts_before(ledger: sqlite3.Connection, digest: str) -> ReportFacts | None:
    """Facts of the last report with another digest: other inputs, settings, versions or day."""
    query = "SELECT run_id FROM runs WHERE status = ? AND digest != ? ORDER BY run_id DESC LIMIT 1"
    row = _one(ledger, query, RunStatus.GOOD, digest)
    return None if row is None else facts_of_run(ledger, row["run_id"])


def facts_of_run(ledger: sqlite3.Connection, run_id: int) -> ReportFacts:
    """Facts of a good run."""
    run = _all(ledger, "SELECT * FROM runs WHERE run_id = ?", run_id)[0]
    record = {
        "as_of": run["as_of"],
        "inputs": _all(ledger, "SELECT * FROM tables WHERE run_id = ?", run_id),
        "inspect_now": _all(ledger, "SELECT * FROM signs WHERE run_id = ?", run_id),
        "settings": json.loads(run["settings"]),
        "versions": json.loads(run["versions"]),
    }
    units = map(unit_facts, _all(ledger, "SELECT * FROM units WHERE run_id = ? ORDER BY rowid", run_id))
    held = _all(ledger, "SELECT * FROM held_back WHERE run_id = ? ORDER BY rowid", run_id)
    return facts_of_record(record, units, held_back=((row["table"], held_back_row(row)) for row in held))


def unit_names_known(ledger: sqlite3.Connection) -> list[str]:
    """Every unit_id in any report."""
    return [name for (name,) in ledger.execute("SELECT DISTINCT unit_id FROM units ORDER BY unit_id")]


def unit_history(ledger: sqlite3.Connection, unit_id: str) -> list[HistoryPoint]:
    """The unit's row in every report, site by site, oldest first."""
    rows = _all(
        ledger,
        "SELECT runs.as_of, units.*, (SELECT signs FROM signs WHERE signs.run_id = units.run_id "
        "AND signs.unit_id = units.unit_id AND signs.site IS units.site) AS signs "
        f"FROM units JOIN runs USING (run_id) WHERE unit_id = ? AND {DISTINCT} ORDER BY site, run_id",
        unit_id,
    )
    return [HistoryPoint(date.fromisoformat(row["as_of"]), unit_facts(row), row["signs"] or "") for row in rows]


def interval_trends(ledger: sqlite3.Connection) -> list[Trend]:
    """The interval of each unit of the last report, over all reports on that unit."""
    last = last_good_run(ledger)
    if last is None:
        return []
    rows = _all(
        ledger,
        "SELECT DISTINCT unit_id, site, count(*) OVER unit AS reports, first_value(as_of) OVER unit AS first_on, "
        "first_value(interval_h) OVER unit AS first_h, last_value(as_of) OVER unit AS last_on, "
        "last_value(interval_h) OVER unit AS last_h, min(interval_h) OVER unit AS shortest_h, "
        "max(interval_h) OVER unit AS longest_h, last_value(run_id) OVER unit AS last_run "
        f"FROM units JOIN runs USING (run_id) WHERE {DISTINCT} WINDOW unit AS (PARTITION BY unit_id, site "
        "ORDER BY run_id ROWS BETWEEN UNBOUNDED PRECEDING AND UNBOUNDED FOLLOWING) ORDER BY unit_id, site",
    )
    kept = (row for row in rows if row.pop("last_run") == last.run_id)
    return [Trend(**row | {name: date.fromisoformat(row[name]) for name in ("first_on", "last_on")}) for row in kept]


def _one(ledger: sqlite3.Connection, query: str, *values: Any) -> dict[str, Any] | None:
    return next(iter(_all(ledger, query, *values)), None)


def _all(ledger: sqlite3.Connection, query: str, *values: Any) -> list[dict[str, Any]]:
    cursor = ledger.execute(query, values)
    names = [item[0] for item in cursor.description]
    return [dict(zip(names, row, strict=True)) for row in cursor]
