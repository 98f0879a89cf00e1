"""Fleets and their truth as files: CSV, a workbook or Parquet, the same bytes for the same fleet."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl

from draincurve.pipeline.simulation.fleet_tables import simulate_fleet
from draincurve.pipeline.simulation.laboratory_report import debris_of, laboratory_report
from draincurve.pipeline.simulation.measured_wear import measured_fleet
from draincurve.pipeline.simulation.scenarios import resized, scenario
from draincurve.pipeline.simulation.typed_log import plain_text, type_by_hand
from draincurve.schemas.channels import CHANNELS
from draincurve.schemas.errors import SettingsError

KINDS = ("csv", "xlsx", "parquet")
HEADERS = {
    "unit_id": "Unit ID",
    "drained_on": "Drained on",
    "oil_hours": "Oil hours",
    "meter_hours": "Meter hours",
    "oil_grade": "Oil grade",
    "filled_ml": "Filled (ml)",
    "drained_ml": "Drained (cc)",
    "settle_hours": "Settle hours",
    **{channel.rating: f"{channel.title} rating" for channel in CHANNELS},
    "spring_type": "Spring type",
    "spring_hours": "Spring hours",
    "rated_by": "Rated by",
    "drain_method": "Drain method",
    "service_kind": "Service kind",
    "new_parts": "New parts",
}
"""Headings as people write them, where they differ from the contract's names."""

NUMBER = re.compile(r"-?\d+(\.\d+)?")
ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
NUMBER_COLUMNS = re.compile(r".*(hours|_ml|_h|_days|_rating)")


def write_sample(
    name: str, out: Path, *, seed: int | None = None, units: int | None = None, drains: int | None = None
) -> list[Path]:
    """Write one scenario's log, side tables, settings and truth into `out`; the files written.

    Without seed, units and drains it makes the committed sample again, byte for byte.
    """
    chosen = scenario(name)
    plan = resized(chosen.plan(), units, drains=drains)
    used_seed = chosen.seed if seed is None else seed
    rng = np.random.default_rng(used_seed)
    fleet = simulate_fleet(plan, rng)
    log = type_by_hand(
        fleet.tables, chosen.habits, rng=rng, as_of=plan.as_of, standard_settle_hours=plan.standard_settle_hours
    )
    truth = {"seed": used_seed, **fleet.truth, "expected": log.expected}
    clean, oils = fleet.tables["drains"], dict(chosen.viscosities)
    measured = None
    if chosen.sampled_every is not None:
        measured = laboratory_report(
            clean, every=chosen.sampled_every, viscosities=oils, debris=debris_of(fleet.truth), seed=used_seed
        )
    elif oils:
        measured = measured_fleet(clean, viscosities=oils, seed=used_seed)
    written = write_fleet(
        log.tables,
        out,
        kind=chosen.kind,
        truth=truth if measured is None else truth | {"measured": measured.truth},
        delimiter=chosen.habits.delimiter,
        typed_headings=chosen.habits.bad_rows,
    )
    if measured is not None:
        written += write_fleet(measured.tables, out, kind="csv")
    settings = out / "settings.toml"
    settings.write_text(chosen.settings, encoding="utf-8", newline="\n")
    return [*written, settings]


def write_fleet(
    tables: Mapping[str, pl.DataFrame],
    out: Path,
    *,
    kind: str,
    truth: Mapping[str, Any] | None = None,
    delimiter: str = ",",
    typed_headings: bool = False,
) -> list[Path]:
    """Write tables, clean or as typed, and truth.json where a truth is given; the files written.

    kind : csv or parquet (one file a table), or xlsx (one workbook, log.xlsx, a sheet a table)
    delimiter : of drains.csv; the other tables are kept with commas
    """
    if kind not in KINDS:
        raise SettingsError(f"file kind {kind!r} is unknown; possible are {', '.join(KINDS)}")
    out.mkdir(parents=True, exist_ok=True)
    written = []
    if kind == "xlsx":
        written.append(out / "log.xlsx")
        _write_workbook({name: _as_text(table) for name, table in tables.items()}, written[0])
    for name, table in tables.items() if kind != "xlsx" else ():
        path = out / f"{name}.{kind}"
        if kind == "parquet":
            table.write_parquet(path)
        else:
            is_log = name == "drains"
            headings = [
                HEADERS.get(column, column.capitalize()) if is_log and typed_headings else column
                for column in table.columns
            ]
            _write_csv(_as_text(table), headings, path=path, delimiter=delimiter if is_log else ",")
        written.append(path)
    if truth is not None:
        written.append(out / "truth.json")
        text = json.dumps(truth, indent=1, ensure_ascii=False) + "\n"
        written[-1].write_text(text, encoding="utf-8", newline="\n")
    return written


def _as_text(table: pl.DataFrame) -> pl.DataFrame:
    """The table itself if it is all text, else its cells as plain text."""
    return table if all(dtype == pl.String for dtype in table.dtypes) else plain_text(table)


def _write_csv(table: pl.DataFrame, headings: list[str], *, path: Path, delimiter: str) -> None:
    """UTF-8 without a mark, one line a row."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, delimiter=delimiter, lineterminator="\n")
        writer.writerow(headings)
        writer.writerows(table.iter_rows())


def _write_workbook(tables: Mapping[str, pl.DataFrame], path: Path) -> None:
    """A sheet a table, numbers and ISO dates as such, a fixed date of creation so that the bytes repeat."""
    import xlsxwriter

    options = {"strings_to_formulas": False, "strings_to_numbers": False, "strings_to_urls": False}
    with xlsxwriter.Workbook(path, options) as book:
        book.set_properties({"title": "Service log", "created": datetime(2026, 6, 20, tzinfo=UTC)})
        bold = book.add_format({"bold": True})
        as_date = book.add_format({"num_format": "yyyy-mm-dd"})
        for name, table in tables.items():
            sheet = book.add_worksheet(name)
            sheet.freeze_panes(1, 0)
            for column, series in enumerate(table.iter_columns()):
                sheet.write_string(0, column, series.name, bold)
                numeric = NUMBER_COLUMNS.fullmatch(series.name) is not None
                for row, cell in enumerate(series, start=1):
                    _write_cell(sheet, row, column=column, cell=cell or "", numeric=numeric, as_date=as_date)


def _write_cell(sheet: Any, row: int, *, column: int, cell: str, numeric: bool, as_date: Any) -> None:
    """One cell as a number, a date or text; a blank stays a blank."""
    if numeric and NUMBER.fullmatch(cell):
        sheet.write_number(row, column, float(cell))
    elif ISO_DATE.fullmatch(cell):
        # The workbook's date type carries no zone.
        sheet.write_datetime(row, column, datetime.fromisoformat(cell), as_date)
    elif cell:
        sheet.write_string(row, column, cell)
