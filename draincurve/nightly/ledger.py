"""The ledger of nightly runs, an SQLite database: opened, migrated, and written in transactions.

Journal mode and its reason: `docs/decisions/06-nightly.md`.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import astuple, dataclass, field, fields
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import Any

from draincurve.nightly.ledger_schema import APPLICATION, MIGRATIONS
from draincurve.nightly.night_clock import Moment
from draincurve.nightly.report_facts import ReportFacts, UnitFacts
from draincurve.nightly.wear_and_parts import WearAndParts, enter_wear_and_parts
from draincurve.schemas.errors import DraincurveError


class RunStatus(StrEnum):
    """Status of a run in the ledger."""

    RUNNING = "running"
    GOOD = "good"
    FAILED = "failed"
    UNCHANGED = "unchanged"
    STOPPED = "stopped"
    INTERRUPTED = "interrupted"


class LedgerError(DraincurveError):
    """A ledger that cannot be read or written."""


@dataclass(frozen=True, slots=True)
class GoodRun:
    """Record of a good run. digest : of everything that its report depends on; timings : seconds of each stage."""

    digest: str
    folder: str
    exit_status: int
    facts: ReportFacts
    timings: Mapping[str, float]
    warnings: tuple[str, ...]
    measured: WearAndParts = field(default_factory=WearAndParts)


@contextmanager
def open_ledger(path: Path, *, create: bool = True) -> Iterator[sqlite3.Connection]:
    """The ledger, migrated to the schema of this version.

    Raises LedgerError, in one line, for any fault of the database while it is open.
    """
    if not create and not path.is_file():
        raise LedgerError(f"{path}: no ledger there; it is made by the first nightly run")
    try:
        with closing(sqlite3.connect(path, timeout=20.0, isolation_level=None)) as ledger:
            ledger.execute("PRAGMA journal_mode = DELETE")
            ledger.execute("PRAGMA synchronous = EXTRA")
            ledger.execute("PRAGMA foreign_keys = ON")
            _migrate(ledger, path)
            yield ledger
    except sqlite3.Error as fault:
        raise LedgerError(
            f"{path}: the ledger cannot be used ({fault}); check space and rights, or move it away to begin anew"
        ) from fault


@contextmanager
def transaction(ledger: sqlite3.Connection) -> Iterator[None]:
    """A transaction: committed when the block ends, rolled back when it raises."""
    ledger.execute("BEGIN IMMEDIATE")
    try:
        yield
        ledger.execute("COMMIT")
    except BaseException:
        if ledger.in_transaction:
            ledger.execute("ROLLBACK")
        raise


def begin_run(ledger: sqlite3.Connection, moment: Moment) -> int:
    """Record the start of a run, and mark earlier ones that never ended. The caller holds the lock."""
    with transaction(ledger):
        ledger.execute(
            "UPDATE runs SET status = ?, message = 'the run was ended from outside' WHERE status = ?",
            (RunStatus.INTERRUPTED, RunStatus.RUNNING),
        )
        entered = ledger.execute(
            "INSERT INTO runs (started, zone, clock_day, status) VALUES (?, ?, ?, ?)",
            (_instant(moment.at), moment.zone, moment.day.isoformat(), RunStatus.RUNNING),
        )
    return int(entered.lastrowid or 0)


def end_run(
    ledger: sqlite3.Connection,
    run_id: int,
    *,
    status: RunStatus,
    ended: datetime,
    as_of: date | None,
    message: str = "",
) -> None:
    """Record the end of a run without a new report; the record of a report that is complete is not changed."""
    with transaction(ledger):
        ledger.execute(
            "UPDATE runs SET status = ?, ended = ?, as_of = ?, message = ? WHERE run_id = ? AND status = ?",
            (
                status, _instant(ended), None if as_of is None else as_of.isoformat(), message, run_id,
                RunStatus.RUNNING,
            ),
        )  # fmt: skip


def record_good_run(ledger: sqlite3.Connection, run_id: int, *, ended: datetime, day: date, night: GoodRun) -> None:
    """Record a report with all its units, in the caller's transaction, which also covers the swap of the report.

    day : with which the clock of later runs is compared. Rows held back are kept only for the last good run of each
    of the last two digests, which is all that a comparison needs.
    """
    facts = night.facts
    ledger.execute(
        "UPDATE runs SET status = ?, ended = ?, clock_day = ?, as_of = ?, digest = ?, folder = ?, exit_status = ?, "
        "settings = ?, versions = ?, timings = ?, warnings = ? WHERE run_id = ?",
        (
            RunStatus.GOOD, _instant(ended), day.isoformat(), facts.as_of.isoformat(), night.digest, night.folder,
            night.exit_status, *map(_json, (facts.settings, facts.versions, night.timings, night.warnings)), run_id,
        ),
    )  # fmt: skip
    _insert(ledger, "tables", columns=7, rows=((run_id, *astuple(table)) for table in facts.tables))
    _insert(
        ledger,
        "units",
        columns=1 + len(fields(UnitFacts)),
        rows=((run_id, *_unit_cells(unit)) for unit in facts.units),
    )
    _insert(
        ledger,
        "signs",
        columns=4,
        rows=((run_id, unit.unit_id, unit.site, signs) for unit, signs in facts.signs.items()),
    )
    enter_wear_and_parts(ledger, run_id, night.measured)
    _insert(ledger, "held_back", columns=8, rows=((run_id, table, *astuple(row)) for table, row in facts.held_back))
    ledger.execute(
        "DELETE FROM held_back WHERE run_id NOT IN (SELECT max(run_id) FROM runs WHERE status = ? GROUP BY digest "
        "ORDER BY 1 DESC LIMIT 2)",
        (RunStatus.GOOD,),
    )


def record_deliveries(
    ledger: sqlite3.Connection, run_id: int, *, outcomes: Iterable[tuple[str, bool, int, str]]
) -> None:
    """Record the outcome of each delivery: way, delivered, tries, message."""
    with transaction(ledger):
        _insert(ledger, "deliveries", columns=5, rows=((run_id, *outcome) for outcome in outcomes))


def _migrate(ledger: sqlite3.Connection, path: Path) -> None:
    version, application = (
        int(ledger.execute(f"PRAGMA {name}").fetchone()[0]) for name in ("user_version", "application_id")
    )
    if version and application != APPLICATION:
        raise LedgerError(f"{path}: is another program's database; name a ledger of this one")
    if version > len(MIGRATIONS):
        raise LedgerError(f"{path}: was written by a newer version of this program; use that one")
    for number in range(version, len(MIGRATIONS)):
        with transaction(ledger):
            for statement in MIGRATIONS[number].split(";"):
                ledger.execute(statement)
            ledger.execute(f"PRAGMA application_id = {APPLICATION}")
            ledger.execute(f"PRAGMA user_version = {number + 1}")


def _insert(ledger: sqlite3.Connection, table: str, *, columns: int, rows: Iterable[tuple[Any, ...]]) -> None:
    ledger.executemany(f"INSERT INTO {table} VALUES ({', '.join('?' * columns)})", rows)


def _unit_cells(unit: UnitFacts) -> tuple[Any, ...]:
    return tuple(cell.isoformat() if isinstance(cell, date) else cell for cell in astuple(unit))


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, sort_keys=True, default=dict)


def _instant(moment: datetime) -> str:
    return moment.isoformat(timespec="seconds")
