"""The facts of a report that are compared with a later one, from a result, an output folder or the ledger."""

from __future__ import annotations

import csv
import json
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from itertools import islice
from pathlib import Path
from typing import Any

from draincurve.pipeline.plan_result import PlanResult
from draincurve.pipeline.processing import EVERY_LOG
from draincurve.reports.content.report_changes import HeldBackRow, UnitName
from draincurve.reports.output.run_record import run_record
from draincurve.reports.tables.csv_tables import DECIMALS, written_rows
from draincurve.schemas.errors import SourceError


@dataclass(frozen=True, slots=True)
class UnitFacts:
    """The columns of next_service.csv that are compared or recorded, for one unit; hours [h]."""

    unit_id: str
    site: str | None
    drains: int
    hours_on_oil: float | None
    interval_h: float | None
    interval_low_h: float | None
    interval_high_h: float | None
    set_by: str | None
    hours_left: float | None
    due_on: date | None
    due_before: date | None
    risk_now: float | None
    hours_ratio: float | None
    standing: str
    turned: bool | None

    @property
    def name(self) -> UnitName:
        """The unit's name."""
        return UnitName(self.unit_id, self.site)

    def due_now(self, as_of: date) -> bool:
        """Whether no hours are left, or the due date or booked event has come."""
        days = (day for day in (self.due_on, self.due_before) if day is not None)
        return (self.hours_left is not None and self.hours_left <= 0.0) or any(day <= as_of for day in days)


@dataclass(frozen=True, slots=True)
class TableFacts:
    """Row accounting of one input table."""

    table: str
    source: str
    sha256: str
    read: int
    accepted: int
    held_back: int


@dataclass(frozen=True, slots=True)
class ReportFacts:
    """Facts of one report. signs : of each unit to inspect; settings : by dotted name; versions : by name."""

    as_of: date
    units: tuple[UnitFacts, ...]
    tables: tuple[TableFacts, ...]
    held_back: tuple[tuple[str, HeldBackRow], ...]
    signs: Mapping[UnitName, str]
    settings: Mapping[str, Any]
    versions: Mapping[str, str]

    @property
    def due_now(self) -> list[UnitFacts]:
        """Units that are due now."""
        return [unit for unit in self.units if unit.due_now(self.as_of)]


TEXTS = ("unit_id", "site", "set_by", "standing")
HELD_BACK_COLUMNS = ("table", "source", "line", "column", "value", "reason", "row")
DAYS = ("due_on", "due_before")


def facts_of_result(result: PlanResult) -> ReportFacts:
    """Facts of a result, rounded as its tables are written."""
    record = run_record(result)
    held = result.log.held_back.select(HELD_BACK_COLUMNS)
    return facts_of_record(
        record,
        (unit_facts(row) for row in result.decided.next_service.iter_rows(named=True)),
        held_back=((row[0], HeldBackRow(*row[1:])) for row in held.iter_rows()),
    )


def facts_of_folder(folder: Path) -> ReportFacts:
    """Facts of an earlier output folder: its run.json, next_service.csv and held_back.csv.

    Of very many rows held back the first are compared, as `facts_of_result` has them.

    Raises SourceError where the folder holds no whole report.
    """
    try:
        record = json.loads((folder / "run.json").read_text(encoding="utf-8"))
        units = [unit_facts(row) for row in written_rows(folder / "next_service.csv", UnitFacts.__slots__)]
        rows = written_rows(folder / "held_back.csv", HELD_BACK_COLUMNS)
        held = [(row["table"] or "", held_back_row(row)) for row in islice(rows, EVERY_LOG.held_back_in_memory)]
        return facts_of_record(record, units, held_back=held)
    except FileNotFoundError as fault:
        missing = Path(str(fault.filename)).name
        raise SourceError(f"{folder}: holds no {missing}; name the output folder of an earlier run") from fault
    except OSError as fault:
        raise SourceError(f"{folder}: cannot be read ({fault.strerror}); name an earlier output folder") from fault
    except (KeyError, TypeError, ValueError, csv.Error) as fault:
        raise SourceError(
            f"{folder}: not an output folder of this program ({fault!r}); name one that `plan` or `nightly` wrote"
        ) from fault


def facts_of_record(
    record: Mapping[str, Any], units: Iterable[UnitFacts], *, held_back: Iterable[tuple[str, HeldBackRow]]
) -> ReportFacts:
    """Facts from a run record and the rows of its two tables. Raises KeyError or ValueError for another shape."""
    return ReportFacts(
        as_of=date.fromisoformat(record["as_of"]),
        units=tuple(units),
        tables=tuple(TableFacts(*(account[name] for name in TableFacts.__slots__)) for account in record["inputs"]),
        held_back=tuple(held_back),
        signs={UnitName(row["unit_id"], row["site"]): row["signs"] for row in record.get("inspect_now", ())},
        settings=_flat(record["settings"]),
        versions=dict(record["versions"]),
    )


def unit_facts(row: Mapping[str, Any]) -> UnitFacts:
    """One unit from a row of the table, as in its CSV file (all text) or in the ledger."""
    return UnitFacts(**{name: _value(name, row[name]) for name in UnitFacts.__slots__})


def held_back_row(row: Mapping[str, Any]) -> HeldBackRow:
    """One row held back, from a row of its CSV file or of the ledger."""
    return HeldBackRow(
        row["source"], int(row["line"]), row["column"], row["value"], row["reason"] or "", row["row"] or ""
    )


def row_counts(held_back: Iterable[tuple[str, HeldBackRow]]) -> Counter[tuple[str, str]]:
    """How often each row occurs, by table and content."""
    return Counter(row_content(table, row) for table, row in held_back)


def row_content(table: str, held: HeldBackRow) -> tuple[str, str]:
    """The identity of a row: its table and its filled cells, whatever its line."""
    try:
        cells = json.loads(held.row)
    except ValueError:
        return table, held.row
    if not isinstance(cells, dict):
        return table, held.row
    filled = {name: cell for name, cell in cells.items() if cell not in (None, "")}
    return table, json.dumps(filled, sort_keys=True, ensure_ascii=False)


def _value(name: str, cell: Any) -> Any:
    """A cell as a value of its column's type."""
    if cell is None or cell == "":
        return None
    if name in TEXTS:
        return str(cell)
    if name in DAYS:
        return cell if isinstance(cell, date) else date.fromisoformat(cell)
    if name == "turned":
        return cell in (True, "true")
    return int(cell) if name == "drains" else round(float(cell), DECIMALS) + 0.0


def _flat(settings: Mapping[str, Any], prefix: str = "") -> dict[str, Any]:
    """Nested settings under dotted names."""
    flat: dict[str, Any] = {}
    for name, value in settings.items():
        if isinstance(value, Mapping):
            flat |= _flat(value, f"{prefix}{name}.")
        else:
            flat[f"{prefix}{name}"] = value
    return flat
