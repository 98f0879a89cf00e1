"""tables.xlsx read back by another library: the values of the CSV files, as real dates and numbers."""

from __future__ import annotations

import csv
import time
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from types import SimpleNamespace

import openpyxl
import polars as pl
import pytest
from invented_report import AS_OF, FleetShape, altered, build_report

from draincurve.pipeline.deciding.next_samples import NextSample
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.freshness import freshness
from draincurve.reports.content.part_findings import PartFinding
from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.content.sections.work_list import work_list
from draincurve.reports.content.sections.work_order import WorkSite
from draincurve.reports.content.service_rows import service_rows
from draincurve.reports.content.unit_names import UnitNames
from draincurve.reports.output import report_files
from draincurve.reports.tables.csv_tables import as_typed, result_tables, write_tables
from draincurve.reports.workbooks.result import result_sheets as sheets_module
from draincurve.reports.workbooks.result.result_sheets import result_sheets, work_sheet
from draincurve.reports.workbooks.result.result_workbook import write_result_workbook
from draincurve.schemas.errors import ContractError

CSV_TABLES = ("next_service", "fleet_intervals", "spring_effects", "held_back")
SAMPLES = (
    NextSample("F03", None, "debris", 9.5, True, 0.87654, "unit", "it is new and its range is wide"),
    NextSample("=F07", "north", "colour", 14.0, False, 0.97, "fleet", "long fills are rare"),
)
SPRING_PAIR = {
    "channel": "debris", "spring_type": "10.0 N/mm", "compared_with": "9.0 N/mm", "hours_multiplier": 0.61234,
    "low": 0.41, "high": 0.9, "p_value": 0.0123, "p_adjusted": 0.0246, "p_permutation": 0.0149,
    "verdict": "sheds more", "drains": 120, "units": 11, "shared_riders": 3, "shared_oils": 2, "drains_needed": None,
}  # fmt: skip


def write_book(result: PlanResult, path: Path) -> None:
    names = UnitNames(frozenset())
    rows = service_rows(result.decided.next_service, names, as_of=AS_OF, unit_reasons=result.decided.unit_reasons)
    work = work_list(
        result,
        rows,
        names=names,
        parts={"F02": (PartFinding("seals", "look for a leak"),)},
        rides=None,
        fresh=freshness(result),
    )
    write_result_workbook(result, path, tables=result_tables(result), work=work)


def with_more(result: PlanResult) -> PlanResult:
    springs = pl.DataFrame([SPRING_PAIR], schema=result.judged.spring_effects.schema)
    cells = result.log.held_back.with_columns(
        pl.Series("row", ["=cmd", "@x", "<r>a</r>", "-5", "+1+1", "\tTab"][: result.log.held_back.height]),
        pl.lit("@risk").alias("=header"),
    )
    return altered(result, spring_effects=springs, next_samples=SAMPLES, held_back=cells)


@pytest.fixture(scope="module")
def result(hostile_team: PlanResult) -> PlanResult:
    return with_more(hostile_team)


@pytest.fixture(scope="module")
def folder(result: PlanResult, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("tables")
    write_tables(result, path)
    write_book(result, path / "tables.xlsx")
    return path


@pytest.fixture(scope="module")
def book(folder: Path) -> openpyxl.Workbook:
    return openpyxl.load_workbook(folder / "tables.xlsx")


def as_csv_text(value: object) -> str:
    """A cell as the CSV file writes it."""
    if value is None:
        return ""
    if isinstance(value, datetime):
        assert value.time() == datetime.min.time()
        return value.date().isoformat()
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value).replace("_x0009_", "\t")


@pytest.mark.parametrize("name", CSV_TABLES)
def test_values_equal_the_csv_table(book: openpyxl.Workbook, folder: Path, name: str) -> None:
    with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        typed = [[as_typed(cell) for cell in row] for row in csv.reader(file)]
    sheet = [[as_csv_text(cell) for cell in row] for row in book[name].iter_rows(values_only=True)]
    assert len(sheet) == len(typed) > 1
    assert sheet[0] == typed[0]
    for cells, expected in zip(sheet[1:], typed[1:], strict=True):
        for cell, text in zip(cells, expected, strict=True):
            assert cell == text or float(cell) == float(text)


def test_kinds_and_formats(book: openpyxl.Workbook) -> None:
    sheet = book["next_service"]
    first = {heading.value: cell for heading, cell in zip(sheet[1], sheet[2], strict=True)}
    assert isinstance(first["due_on"].value, datetime)
    assert first["due_on"].number_format == "yyyy-mm-dd"
    assert (first["interval_h"].data_type, first["interval_h"].number_format) == ("n", "0.0")
    assert (first["risk_now"].data_type, first["risk_now"].number_format) == ("n", "0.0 %")
    assert first["hours_ratio"].number_format == "0.00"
    assert first["drains"].number_format == "0"
    assert first["turned"].data_type == "b"
    assert book["spring_effects"]["G2"].number_format == "0.000"


def test_every_heading_and_filter_stays_in_view(book: openpyxl.Workbook) -> None:
    frozen = {"next_service": "B2", "fleet_intervals": "C2", "spring_effects": "D2", "held_back": "C2"}
    for name, corner in frozen.items():
        sheet = book[name]
        assert sheet.freeze_panes == corner
        assert sheet.auto_filter.ref == f"A1:{sheet.cell(sheet.max_row, sheet.max_column).coordinate}"
        assert all(8 < dimension.width < 70 for dimension in sheet.column_dimensions.values())


def test_no_cell_is_a_formula_or_a_link(book: openpyxl.Workbook) -> None:
    """Source: OWASP, CSV Injection: cells beginning with =, +, -, @ or tab."""
    active = 0
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type != "f"
                assert cell.hyperlink is None
                if isinstance(cell.value, str) and cell.value.startswith(("=", "+", "@")):
                    active += 1
                    assert cell.quotePrefix
    assert active > 10


def test_what_to_drain_next(book: openpyxl.Workbook) -> None:
    rows = list(book["next_samples"].iter_rows(values_only=True))
    assert rows[1] == ("F03", None, "debris", 9.5, True, 0.877, "unit", "it is new and its range is wide")
    assert rows[2][:2] == ("=F07", "north")


def test_the_work_list_says_why_in_the_words_of_the_page(hostile_content: ReportContent, tmp_path: Path) -> None:
    lines = hostile_content.work.lines
    again = replace(lines[0], why=f"{lines[0].why}; again before Sun 17 May")
    sheet = work_sheet(replace(hostile_content.work, sites=(WorkSite("", (again, *lines[1:])),)))
    assert sheet.table["why"].to_list() == [again.why, *(line.why for line in lines[1:])]
    assert hostile_content.work.later in sheet.holds or not hostile_content.work.later


def test_it_opens_on_the_work_list(book: openpyxl.Workbook) -> None:
    sheet = book.worksheets[0]
    assert book.active is sheet
    rows = {row[2]: row for row in sheet.iter_rows(min_row=2, values_only=True)}
    unit, place, rider, word, task, _, oil, amount, _ = rows["F10"][2:]
    assert (unit, place, rider, word) == ("F10", "machine 5, right", "Bruno", "inspect")
    assert task == "Inspect: burnt (seen 14 Apr)"
    assert (oil, amount) == ("Grade 7.5 red", "if changed: amount not known: see the maker's manual")


def test_a_sheet_says_what_every_column_means(book: openpyxl.Workbook) -> None:
    sheet = book["read me"]
    said = {(row[0], row[1]): row[2:] for row in sheet.iter_rows(values_only=True)}
    for other in (other for other in book if other is not sheet):
        for heading in next(other.iter_rows(max_row=1, values_only=True)):
            unit, meaning = said[other.title, heading]
            assert unit
            assert len(meaning) > 8
    assert said["next_service", "interval_h"][0] == "h"
    assert said["next_service", "due_on"][0] == "date"
    assert said["forecast", "low"][0] == "in the unit of its row"
    assert said["spring_effects", "low"][0] == "times"
    assert "%" in said["next_service", "risk_now"][0]
    text = " ".join(str(row[0]) for row in sheet.iter_rows(values_only=True))
    assert "Never past the maker's limit." in text
    assert AS_OF.isoformat() in text


def test_the_same_result_gives_the_same_bytes(result: PlanResult, folder: Path, tmp_path: Path) -> None:
    write_book(result, tmp_path / "again.xlsx")
    assert (tmp_path / "again.xlsx").read_bytes() == (folder / "tables.xlsx").read_bytes()


def test_rows_past_the_end_of_a_sheet_are_counted_and_are_in_the_csv(
    result: PlanResult, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sheets_module, "MOST_ROWS", 2)
    sheet = next(sheet for sheet in result_sheets(result, result_tables(result)) if sheet.name == "held_back")
    assert (sheet.table.height, sheet.left_out) == (2, result.log.held_back.height - 2)
    write_book(result, tmp_path / "t.xlsx")
    cells = [cell for row in openpyxl.load_workbook(tmp_path / "t.xlsx")["read me"].values for cell in row if cell]
    assert any("4 more rows are in held_back.csv, which has them all" in str(cell) for cell in cells)


def test_a_table_that_breaks_its_schema_reaches_neither_workbook_nor_any_other_file(
    result: PlanResult, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(report_files, "report_content", lambda *_, **__: SimpleNamespace(work=None))
    monkeypatch.setattr(report_files, "write_pdf", lambda *_: "")
    broken = altered(result, next_service=result.decided.next_service.with_columns(risk_now=pl.lit(7.0)))
    with pytest.raises(ContractError, match="risk_now"):
        report_files.write_files(broken, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_run_without_rows_still_has_its_headings(result: PlanResult, tmp_path: Path) -> None:
    empty = altered(
        result,
        next_service=result.decided.next_service.clear(),
        held_back=result.log.held_back.clear(),
        next_samples=(),
    )
    write_book(empty, tmp_path / "t.xlsx")
    book = openpyxl.load_workbook(tmp_path / "t.xlsx")
    assert book["next_service"].max_row == 1
    assert book["held_back"]["A1"].value == "source"


def test_a_thousand_units_are_quick(tmp_path: Path) -> None:
    many = build_report(FleetShape(units=1000, drains=3000))
    begin = time.process_time()
    write_book(many, tmp_path / "t.xlsx")
    assert time.process_time() - begin < 5.0
    assert openpyxl.load_workbook(tmp_path / "t.xlsx", read_only=True)["next_service"].max_row == 1001


def test_no_date_of_today_is_in_the_file(book: openpyxl.Workbook) -> None:
    assert book.properties.created.date() == AS_OF
    assert date.today() != AS_OF
