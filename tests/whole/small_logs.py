"""Small logs in the shop's manner, and the program run on them as a user would."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable
from contextlib import nullcontext
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from empty_pictures import empty_pictures
from matplotlib.figure import Figure
from small_trees import small_trees
from typer.testing import CliRunner

from draincurve.cli import app
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.report_changes import ReportChanges
from draincurve.reports.content.report_content import report_content, report_opening
from draincurve.reports.mail_and_calendar.service_calendar import write_calendar
from draincurve.reports.output import report_files
from draincurve.reports.output.report_files import Written
from draincurve.reports.output.run_record import write_run_record
from draincurve.reports.page.page_writer import write_page
from draincurve.reports.tables.csv_tables import write_tables

AS_OF = "2026-06-20"
COLUMNS = (
    "unit_id",
    "drained_on",
    "oil_hours",
    "oil_grade",
    "colour_rating",
    "debris_rating",
    "spring_type",
    "rider",
)


@dataclass(frozen=True)
class Outcome:
    """One run: exit status, what it printed, and the folder it wrote."""

    status: int
    printed: str
    folder: Path | None

    def table(self, name: str) -> pl.DataFrame:
        return pl.read_csv(self.folder / f"{name}.csv", try_parse_dates=True, infer_schema_length=None)

    def record(self) -> dict:
        return json.loads((self.folder / "run.json").read_text())

    def page(self) -> str:
        return (self.folder / "report.html").read_text()


def write_tables_only(result: PlanResult, folder: Path, *, changes: ReportChanges | None) -> Written:
    """Tables, calendar and record as they are, and a page of one line."""
    write_tables(result, folder)
    write_calendar(result, folder / "service.ics")
    write_run_record(result, folder / "run.json", changes=changes)
    (folder / "report.html").write_text("<html></html>")
    return Written(None, "")


def write_tables_and_opening(result: PlanResult, folder: Path, *, changes: ReportChanges | None) -> Written:
    """The same; returns what the first screen says, of which the program prints a line."""
    write_tables_only(result, folder, changes=changes)
    with empty_pictures():
        return Written(report_opening(Figure(), result, changes=changes), "")


def write_tables_and_words(result: PlanResult, folder: Path, *, changes: ReportChanges | None) -> Written:
    """Tables and record as they are, and the page with empty pictures."""
    with empty_pictures():
        content = report_content(result, changes=changes)
    write_tables(result, folder)
    write_run_record(result, folder / "run.json", changes=changes)
    write_page(content, folder / "report.html")
    return Written(content, "")


def run_program(
    command: str, *args: str | Path, out: Path | None = None, page: bool = True, pictures: bool = True
) -> Outcome:
    """`draincurve COMMAND ARGS`, with `--out` if a folder is given.

    page=False leaves out page, printed edition and workbook, which take most of a small plan's time: for tests that
    look at tables, calendar and record only. pictures=False leaves out printed edition, workbook and what is drawn in
    the page: for tests that read its words. The trees of a backtest are small.
    """
    words = [command, *map(str, args)] + ([] if out is None else ["--out", str(out)])
    with pytest.MonkeyPatch.context() as patch:
        if not page:
            patch.setattr(report_files, "write_files", write_tables_and_opening)
        elif not pictures:
            patch.setattr(report_files, "write_files", write_tables_and_words)
        with small_trees() if command == "backtest" else nullcontext():
            result = CliRunner().invoke(app, words)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return Outcome(result.exit_code, result.output, out)


def write_rows(path: Path, rows: Iterable[dict]) -> Path:
    """Rows (dictionaries) as a CSV file."""
    rows = list(rows)
    names = list(dict.fromkeys(key for row in rows for key in row)) or list(COLUMNS)
    text = io.StringIO()
    writer = csv.DictWriter(text, names)
    writer.writeheader()
    writer.writerows(rows)
    path.write_text(text.getvalue(), encoding="utf-8")
    return path


def drain(unit: str, day: date, hours: float, colour: object = 2, debris: object = 2, **more: object) -> dict:
    """One row of a log, everything that is required filled in."""
    row = {
        "unit_id": unit,
        "drained_on": day.isoformat(),
        "oil_hours": hours,
        "oil_grade": "Fork 5",
        "colour_rating": colour,
        "debris_rating": debris,
        "spring_type": "Plain 46",
        "rider": "Brask",
    }
    return row | more


def simple_log(
    units: int, drains: int, seed: int = 1, hours: tuple[float, float] = (5.0, 25.0), **more: object
) -> list[dict]:
    """A fleet whose ratings rise with hours: log-logistic hours to each rating, units alike."""
    rng = np.random.default_rng(seed)
    rows = []
    for unit in range(units):
        day = date(2026, 6, 10)
        for _ in range(drains):
            h = round(float(rng.uniform(*hours)), 1)
            latent = 3.0 * np.log(h / np.array([[4.0, 9.0, 18.0, 40.0], [5.0, 10.0, 20.0, 38.0]]))
            colour, debris = 1 + (latent + rng.logistic(size=(2, 1)) > 0).sum(axis=1)
            rows.append(drain(f"U{unit + 1:02d}", day, h, int(colour), int(debris), **more))
            day -= timedelta(days=10)
    return rows
