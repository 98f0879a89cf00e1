"""`check --mend`: the log comes back as a workbook that says what is wrong, and is read as the log that it was."""

from __future__ import annotations

import csv
import json
import re
import sqlite3
import tomllib
from collections.abc import Callable
from datetime import date, datetime, time
from pathlib import Path

import openpyxl
import polars as pl
import pytest
from openpyxl.worksheet.worksheet import Worksheet
from small_logs import AS_OF, drain, simple_log

from draincurve.pipeline.reading import Log, RunInputs, read
from draincurve.pipeline.reading.sources import source_address
from draincurve.schemas.settings import Settings

MARK, REASON, PROPOSAL, CLEAR = (
    f"draincurve: {word}" for word in ("mark", "reason", "proposal", "clear when mended")
)
FINDING = ("line", "column", "value", "kind", "message", "proposal", "setting")


def spoilt(tmp_path: Path) -> Path:
    """A CSV log with titles above it, cells of every kind of fault, formulas, and rows that do not fit the header."""
    rows = [row | {"filled_ml": 500, "drained_ml": 490, "note": ""} for row in simple_log(4, 8, hours=(9.0, 14.0))]
    rows[1]["oil_hours"] = 750
    rows[4]["debris_rating"] = 9
    rows[4]["rider"] = ""
    rows[6]["rider"] = "=HYPERLINK(1)"
    rows[7]["oil_hours"] = "=C2*2"
    rows[9]["drained_ml"] = 200
    rows[10]["note"] = "@SUM(A1), -5 and +3"
    rows[11]["drained_on"] = "2026-13-05"
    names = list(rows[0])
    lines = [[row[name] for name in names] for row in rows]
    lines[13] += ["", "one", "two more"]
    lines[15] = lines[15][:4]
    path = tmp_path / "log.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([["Log of the shop"], [], names, *lines])
    return path


def checked(path: Path) -> Log:
    return read(RunInputs(source_address(str(path)), date.fromisoformat(AS_OF)), Settings())


def findings(log: Log) -> list[tuple]:
    """Reasons and questions, but for the name of the file."""
    return sorted(map(repr, [*log.reasons.select(FINDING).iter_rows(), *log.asked.select(FINDING).iter_rows()]))


def headings(sheet: Worksheet) -> dict[str, int]:
    """Column of each heading; titles may be above them."""
    row = next(row for row in sheet.iter_rows() if any(cell.value == MARK for cell in row))
    return {cell.value: cell.column for cell in row if cell.value}


@pytest.fixture
def mended(run, tmp_path: Path) -> Callable[..., Path]:
    def call(log: str | Path, *more: str | Path) -> Path:
        path = tmp_path / "mended.xlsx"
        outcome = run("check", log, "--mend", path, "--as-of", AS_OF, "--force", *more, out=False)
        assert outcome.status in (0, 3), outcome.printed
        assert f"workbook to mend: {path}" in outcome.printed
        return path

    return call


def test_a_workbook_in_which_nothing_was_mended_is_read_as_the_log(mended, tmp_path: Path) -> None:
    log = spoilt(tmp_path)
    before, after = checked(log), checked(mended(log))
    assert findings(after) == findings(before)
    assert before.held_back_count == after.held_back_count == 6
    assert after.accepted["drains"].drop("source").equals(before.accepted["drains"].drop("source"))
    first = mended(log).rename(tmp_path / "first.xlsx")
    twice = checked(mended(first))
    assert findings(twice) == findings(before)
    assert not any("not read" in note for note in after.notes.get_column("message"))


def test_cells_are_marked_by_colour_type_and_words(mended, tmp_path: Path) -> None:
    sheet = openpyxl.load_workbook(mended(spoilt(tmp_path)))["drains"]
    at = headings(sheet)
    assert list(at)[:4] == [MARK, REASON, PROPOSAL, CLEAR]
    held = sheet.cell(8, at["debris_rating"])
    assert (held.value, held.font.b, held.fill.fgColor.rgb) == ("9", True, "FFEFD2B3")
    assert sheet.cell(8, at["rider"]).font.b
    assert sheet.cell(8, at[MARK]).value == "held back"
    reasons = sheet.cell(8, at[REASON]).value.splitlines()
    assert len(reasons) == 2
    assert reasons[0].startswith(f"debris_rating (column {held.column_letter}): ")
    asked = sheet.cell(5, at["oil_hours"])
    assert (asked.value, asked.font.i, asked.fill.fgColor.rgb) == ("750", True, "FFB3D0D7")
    assert sheet.cell(5, at[MARK]).value == "asked about"
    clean = sheet.cell(6, at["oil_hours"])
    assert sheet.cell(6, at[MARK]).value is None
    assert clean.fill.fill_type is None


def test_nothing_in_it_is_a_formula_and_nothing_typed_becomes_a_date(mended, tmp_path: Path) -> None:
    book = openpyxl.load_workbook(mended(spoilt(tmp_path)))
    sheet = book["drains"]
    at = headings(sheet)
    assert sheet.cell(10, at["rider"]).value == "=HYPERLINK(1)"
    for row in (cell for page in book for cells in page.iter_rows() for cell in cells if cell.value is not None):
        assert row.data_type == "s"
        if row.value.startswith(("=", "+", "-", "@")):
            assert row.quotePrefix
    assert sheet.cell(9, at["debris_rating"]).number_format == "@"
    assert {column.number_format for column in sheet.column_dimensions.values()} == {"@"}


def test_what_is_mended_is_no_longer_asked(mended, tmp_path: Path) -> None:
    path = mended(spoilt(tmp_path))
    before = checked(path)
    book = openpyxl.load_workbook(path)
    sheet = book["drains"]
    at = headings(sheet)
    for finding in before.asked.drop_nulls(["line", "proposal"]).iter_rows(named=True):
        sheet.cell(finding["line"], at[finding["column"]]).value = finding["proposal"]
    sheet.cell(8, at["debris_rating"]).value, sheet.cell(8, at["rider"]).value = "2-3", "Brask"
    sheet.cell(17, at[CLEAR]).value = None
    book.save(path)
    after = checked(path)
    assert after.held_back_count == before.held_back_count - 2
    assert after.asked.height < before.asked.height
    assert "oil_hours" not in after.asked.get_column("column").to_list()


def test_a_row_that_is_right_as_typed_can_be_confirmed_beside_its_reason(mended, tmp_path: Path) -> None:
    path = mended(spoilt(tmp_path))
    book = openpyxl.load_workbook(path)
    sheet = book["drains"]
    at = headings(sheet)
    assert at["confirmed"] == at[CLEAR] + 1
    sheet.cell(5, at["confirmed"]).value = "yes"
    book.save(path)
    assert 5 not in checked(path).asked.get_column("line").to_list()


def test_a_yes_beside_a_proposal_keeps_the_cell_as_it_stands(mended, tmp_path: Path) -> None:
    path = mended(spoilt(tmp_path))
    book = openpyxl.load_workbook(path)
    sheet = book["drains"]
    at = headings(sheet)
    proposed = sheet.cell(5, at[PROPOSAL]).value.splitlines()
    assert proposed[0].endswith(": 12.5")
    assert proposed[1] == "(type it into the cell to accept it; yes under confirmed keeps the cell as it stands)"
    prompt = sheet.data_validations.dataValidation[0]
    assert (prompt.promptTitle, "type it into its cell" in prompt.prompt) == ("yes: keep as typed", True)
    sheet.cell(5, at["confirmed"]).value = "yes"
    book.save(path)
    kept = checked(path).accepted["drains"].filter(pl.col("line") == 5)
    assert kept["oil_hours"].to_list() == [750.0]
    assert not kept["hours_in_question"].any()


def test_a_name_that_may_be_another_one_is_marked_wherever_it_is(mended, write) -> None:
    rows = simple_log(3, 8, hours=(9.0, 14.0))
    for row in (4, 7):
        rows[row]["rider"] = "Brasck"
    path = mended(write("log.csv", rows))
    book = openpyxl.load_workbook(path)
    sheet, at = book["drains"], headings(book["drains"])
    lines = [line for line in range(2, 26) if sheet.cell(line, at[MARK]).value == "asked about"]
    assert lines == [6, 9]
    assert checked(path).asked.height == 1
    for line in lines:
        cell = sheet.cell(line, at["rider"])
        assert cell.font.i
        assert sheet.cell(line, at[PROPOSAL]).value == f"rider (column {cell.column_letter}): Brask"
        cell.value = "Brask"
    book.save(path)
    assert checked(path).asked.height == 0


def test_every_sheet_and_side_table_comes_back(mended, tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    earlier = [row | {"drained_on": row["drained_on"].replace("2026", "2025")} for row in simple_log(2, 5)]
    years = {"2025": earlier, "2026": [*simple_log(2, 4, seed=2), drain("U01", date(2026, 6, 1), -1)]}
    for name, rows in years.items():
        sheet = book.create_sheet(name)
        sheet.append(list(rows[0]))
        for row in rows:
            sheet.append(list(row.values()))
    units = book.create_sheet("units")
    units.append(["unit_id", "max_interval_h"])
    units.append(["U01", "forty"])
    del book["Sheet"]
    book.save(tmp_path / "log.xlsx")
    path = mended(tmp_path / "log.xlsx")
    assert openpyxl.load_workbook(path).sheetnames == ["2025", "2026", "units", "settings"]
    before, after = checked(tmp_path / "log.xlsx"), checked(path)
    assert findings(after) == findings(before)
    assert [account.read for account in after.accounts] == [account.read for account in before.accounts]


def test_times_and_dates_of_a_sheet_are_shown_as_they_are_seen_there(run, mended, tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    rows = simple_log(2, 5, hours=(9.0, 14.0))
    book.active.append(list(rows[0]))
    for row in rows:
        book.active.append([*row.values()])
    book.active["B4"], book.active["C4"], book.active["E4"] = datetime(2026, 5, 2), time(12, 30), datetime(2026, 2, 3)
    book.active["B5"] = datetime(2027, 5, 2)
    book.save(tmp_path / "log.xlsx")
    outcome = run("check", tmp_path / "log.xlsx", "--as-of", AS_OF)
    held = outcome.table("held_back")
    assert held["value"].cast(str).to_list() == ["2026-02-03", "2027-05-02"]
    assert '"oil_hours":"12:30"' in held["row"][0]
    assert not {"1899", "00:00:00"} & set(outcome.printed.split())
    sheet = openpyxl.load_workbook(mended(tmp_path / "log.xlsx"))["drains"]
    at = headings(sheet)
    seen = [sheet.cell(4, at[name]).value for name in ("drained_on", "oil_hours", "colour_rating")]
    assert seen == ["2026-05-02", "12:30", "2026-02-03"]
    assert findings(checked(tmp_path / "mended.xlsx")) == findings(checked(tmp_path / "log.xlsx"))


def test_bytes_in_a_database_are_still_held_back(mended, tmp_path: Path) -> None:
    rows = simple_log(2, 5)
    with sqlite3.connect(tmp_path / "log.db") as base:
        base.execute(f"CREATE TABLE drains ({', '.join(rows[0])}, note)")
        for row in rows:
            base.execute(f"INSERT INTO drains VALUES ({', '.join('?' * len(row))}, ?)", (*row.values(), b"\xff\x00"))
    before, after = checked(tmp_path / "log.db"), checked(mended(tmp_path / "log.db"))
    assert before.held_back_count == after.held_back_count == 10


def test_settings_are_ready_to_paste_from_the_sheet_and_from_the_terminal(run, write, tmp_path: Path) -> None:
    rows = [{"Bike leg": row.pop("unit_id"), "Ridr": row.pop("rider"), **row} for row in simple_log(3, 6)]
    settings = tmp_path / "shop.toml"
    settings.write_text('[headers]\nunit_id = ["Bike leg"]\nrider = ["Ridr"]\n', encoding="utf-8")
    log = write("log.csv", [row | {"colr note": "x"} for row in rows])
    path = tmp_path / "mended.xlsx"
    outcome = run("check", log, "--settings", settings, "--mend", path, "--as-of", AS_OF, out=False)
    lines = [row[0] or "" for row in openpyxl.load_workbook(path)["settings"].iter_rows(values_only=True)]
    tomllib.loads("\n".join(lines))
    block = [line for line in lines if line and not line.startswith("#")]
    printed = outcome.printed.splitlines()
    assert all(line in printed for line in block)


def test_a_file_that_is_there_or_is_the_log_is_not_written_over(run, write, tmp_path: Path) -> None:
    log = write("log.csv", simple_log(2, 4))
    there = tmp_path / "there.xlsx"
    there.write_bytes(b"mine")
    for path, why in ((there, "--force"), (tmp_path / "out.csv", ".xlsx"), (tmp_path / "no" / "x.xlsx", "no such")):
        outcome = run("check", log, "--mend", path, "--as-of", AS_OF, out=False)
        assert outcome.status == 1
        assert why in outcome.printed
    assert there.read_bytes() == b"mine"


def test_a_log_that_nobody_mends_by_hand_is_refused(run, write, tmp_path: Path, monkeypatch) -> None:
    from draincurve.reports.workbooks.mended import mended_workbook

    monkeypatch.setattr(mended_workbook, "MOST_ROWS", 10)
    path = tmp_path / "mended.xlsx"
    outcome = run("check", write("log.csv", simple_log(4, 4)), "--mend", path, "--as-of", AS_OF, out=False)
    assert outcome.status == 1
    assert "16 rows, over the 10" in outcome.printed
    assert not path.exists()


@pytest.mark.parametrize("header", ["Which one", "Tag #", 'uniit "id"'])
def test_the_settings_that_are_printed_answer_the_header(run, write, tmp_path: Path, header: str) -> None:
    rows = [{header: row.pop("unit_id")} | row for row in simple_log(3, 5)]
    log, settings = write("log.csv", rows), tmp_path / "shop.toml"
    refused = run("check", log, "--as-of", AS_OF, out=False)
    assert refused.status == 1
    message, *block = refused.printed.rstrip("\n").split("\n")
    assert header in message
    settings.write_text("\n".join(block), encoding="utf-8")
    assert run("check", log, "--as-of", AS_OF, "--settings", settings, out=False).status == 0


def test_a_block_of_a_workbook_answers_for_a_plan_and_for_a_night(run, write, mended, tmp_path: Path) -> None:
    rows = simple_log(4, 5)
    rows[3]["unit_id"] = "UO1"
    log = write("log.csv", rows)
    sheet = openpyxl.load_workbook(mended(log))["settings"]
    block = "\n".join(str(cell.value) for (cell,) in sheet.iter_rows(max_col=1) if cell.value)
    assert tomllib.loads(block) == {"words": {"unit_id": {"UO1": "U01"}}}
    settings = tmp_path / "shop.toml"
    settings.write_text(block, encoding="utf-8")
    assert "one? They" not in run("check", log, "--as-of", AS_OF, "--settings", settings, out=False).printed
    nested = re.sub(r"^\[", "[policy.", block, flags=re.MULTILINE)
    night = tmp_path / "night.toml"
    night.write_text(f'[sources]\nlog = "{log.name}"\n{nested}', encoding="utf-8")
    outcome = run("nightly", night, "--as-of", AS_OF, "--quiet", out=False)
    assert outcome.status == 0
    record = json.loads((tmp_path / "reports" / "latest" / "run.json").read_text())
    assert record["asked"]["count"] == 0
    assert record["inputs"][0]["accepted"] == len(rows)


def test_titles_and_hidden_rows_stay_where_they_are(mended, tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    rows = simple_log(3, 4)
    rows[2]["oil_hours"] = "lots"
    for line in (["Log of the shop"], [None, "since spring"], list(rows[0]), *(list(row.values()) for row in rows)):
        sheet.append(line)
    sheet.row_dimensions[6].hidden = sheet.row_dimensions[4].hidden = True
    book.save(tmp_path / "kept.xlsx")
    path = mended(tmp_path / "kept.xlsx")
    page = openpyxl.load_workbook(path).worksheets[0]
    at = headings(page)
    assert page.cell(3, at[MARK]).value == MARK
    assert page.cell(1, at["unit_id"]).value == "Log of the shop"
    assert page.cell(2, at["drained_on"]).value == "since spring"
    assert [line for line, size in page.row_dimensions.items() if size.hidden] == [4, 6]
    assert [page.cell(line, at["oil_hours"]).value for line in (4, 6)] == [str(rows[0]["oil_hours"]), "lots"]
    before, after = checked(tmp_path / "kept.xlsx"), checked(path)
    assert after.accepted["drains"].drop("source").equals(before.accepted["drains"].drop("source"))
    assert any("hidden rows (between lines 4 and 6)" in note for note in after.notes["message"])


@pytest.mark.parametrize("length", [32_767, 16_500])
def test_a_cell_that_a_workbook_cannot_hold_is_not_shortened_in_silence(mended, write, length: int) -> None:
    rows = [row | {"note": ""} for row in simple_log(3, 4)]
    rows[4]["note"] = "\N{WRENCH}" * length
    rows[5]["oil_hours"] = "lots"
    log = write("log.csv", rows)
    assert checked(log).held_back_count == 1
    after = checked(mended(log))
    assert after.held_back_count == 2
    assert any("was cut" in reason for reason in after.reasons["message"])
