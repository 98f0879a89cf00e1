"""The entry workbook as a file: headings that are read, lists as ranges, limits in plain words, 1,000 rows."""

from __future__ import annotations

import zipfile
from datetime import date
from pathlib import Path

import openpyxl
import polars as pl
import pytest
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from draincurve.pipeline.reading.cleaning.header_meaning import match_header
from draincurve.pipeline.reading.cleaning.rating_cells import read_rating
from draincurve.pipeline.reading.cleaning.units_of_measurement import unit_factor
from draincurve.pipeline.reading.cleaning.word_cells import read_service_kind, read_yes_no
from draincurve.pipeline.reading.sources.reading_options import DEFAULT_OPTIONS
from draincurve.pipeline.reading.sources.workbook_file import read_workbook_table
from draincurve.reports.content.trade_words import CAUTIONS, HOW_TO_LOOK
from draincurve.reports.workbooks.entry.entry_choices import choices
from draincurve.reports.workbooks.entry.entry_columns import entry_columns
from draincurve.reports.workbooks.entry.entry_rules import FIXED, RATINGS, rule_of
from draincurve.reports.workbooks.entry.entry_sheets import ENTRY_ROWS
from draincurve.reports.workbooks.entry.entry_workbook import write_entry_workbook
from draincurve.schemas.channels import CHANNELS
from draincurve.schemas.columns import SERVICE_KINDS, TABLES, column_of

AS_OF = date(2026, 6, 20)
COLUMNS = [column for table in TABLES for column in entry_columns(table)]
NAMES = {
    "drains": pl.DataFrame(
        {
            "unit_id": ["F10", "F2", "=1+1", None, "F2"],
            "rider": ["a,b", 'say "x"', "R" * 64, "x" * 256, "@SUM(A1)"],
            "spring_type": [f"Spring {place} " + "long " * 20 for place in range(5)],
            "drain_method": ["poured", "own way", None, None, None],
        }
    ),
    "oils": pl.DataFrame({"oil_grade": ["Fork 5", "<r>7</r>"]}),
}


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("bench") / "bench.xlsx"
    write_entry_workbook(path, choices(NAMES), as_of=AS_OF)
    return path


@pytest.fixture(scope="module")
def book(path: Path) -> openpyxl.Workbook:
    return openpyxl.load_workbook(path)


def rules(book: openpyxl.Workbook, table: str) -> dict[str, DataValidation]:
    """Column name to its validation."""
    letters = {
        str(cell.column_letter): column.name
        for cell, column in zip(book[table][1], entry_columns(table), strict=True)
    }
    found = {}
    for rule in book[table].data_validations.dataValidation:
        first, _, last = str(rule.sqref).partition(":")
        assert (first[-1], last.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")) == ("2", str(ENTRY_ROWS + 1))
        found[letters[first[:-1]]] = rule
    return found


@pytest.mark.parametrize("column", COLUMNS, ids=lambda column: f"{column.table}.{column.name}")
def test_every_heading_is_read_as_its_column_and_unit(column) -> None:
    match = match_header(column.heading, column.table)
    assert match is not None
    assert match.column == column.name
    if column.cell == "number":
        definition = column_of(column.table, column.name)
        factor = unit_factor(match.unit or definition.unit, definition.kind).factor
        assert factor == (1 / 60 if column.heading == "settle_time [min]" else 1)
    if column.cell == "date":
        assert match.date_order == "year first"


def test_every_table_has_its_sheet_and_the_others_are_no_tables(book: openpyxl.Workbook) -> None:
    assert book.sheetnames == [*TABLES, "scales", "lists", "read me"]
    for table in TABLES:
        sheet = book[table]
        assert [cell.value for cell in sheet[1]] == [column.heading for column in entry_columns(table)]
        assert sheet.freeze_panes == "B2"
        assert all(cell.comment is not None and len(cell.comment.text) > 10 for cell in sheet[1])


def test_there_is_room_for_a_thousand_rows(book: openpyxl.Workbook, path: Path) -> None:
    for table in TABLES:
        for place, column in enumerate(entry_columns(table), start=1):
            for row in (2, ENTRY_ROWS + 1):
                cell = book[table].cell(row, place)
                assert cell.has_style
                expected = {"date": "yyyy-mm-dd", "text": "@", "number": "General"}[column.cell]
                assert cell.number_format == expected
        read = read_workbook_table(path, table, DEFAULT_OPTIONS)
        assert read.frame.height == 0, "styled rows without content are no rows"


def test_names_are_offered_from_ranges_that_the_shop_extends(book: openpyxl.Workbook) -> None:
    found = rules(book, "drains")
    for name, title in (
        ("unit_id", "units"),
        ("rider", "riders"),
        ("spring_type", "springs"),
        ("rated_by", "raters"),
    ):
        assert found[name].type == "list"
        assert found[name].formula1 == f"list_{title}"
        assert found[name].errorStyle == "warning", "a new name may stay"
        target = book.defined_names[f"list_{title}"].attr_text
        assert target.startswith("lists!$")
        assert "COUNTA" in target
    headings = [cell.value for cell in book["lists"][1]]
    for place, title in enumerate(headings):
        letter = get_column_letter(place + 1)
        assert book.defined_names[f"list_{title}"].attr_text.startswith(f"lists!${letter}$2:INDEX(lists!${letter}$2:")


def test_lists_hold_the_names_of_the_log_as_text(book: openpyxl.Workbook) -> None:
    sheet = book["lists"]
    columns = {cells[0].value: [cell for cell in cells[1:] if cell.value] for cells in sheet.iter_cols()}
    assert [cell.value for cell in columns["units"]] == ["=1+1", "F2", "F10"]
    assert {cell.value for cell in columns["riders"]} == {"a,b", 'say "x"', "R" * 64, "@SUM(A1)"}
    assert [cell.value for cell in columns["drain_methods"]] == ["poured", "pumped through", "stripped", "own way"]
    assert [cell.value for cell in columns["oils"]] == ["<r>7</r>", "Fork 5"]
    assert sum(len(cell.value) for cell in columns["springs"]) > 255
    for cells in columns.values():
        for cell in cells:
            assert (cell.data_type, cell.number_format) == ("s", "@")
            assert cell.quotePrefix == (cell.value[0] in "=@")
    assert choices(NAMES).too_long == ("x" * 256,)


def test_no_cell_is_a_formula(path: Path) -> None:
    with zipfile.ZipFile(path) as archive:
        for name in archive.namelist():
            if name.startswith("xl/worksheets/sheet"):
                assert b"<f>" not in archive.read(name)


def test_fixed_words_are_those_the_reader_knows() -> None:
    assert RATINGS[:6] == ("1", "2", "3", "4", "5", "1-2")
    assert len(set(RATINGS)) == 15
    for rating in RATINGS:
        read = read_rating(rating, {})
        assert (read.reason, read.note) == (None, None)
        assert rating == str(read.low) if read.low == read.high else f"{read.low}-{read.high}"
    yes_no = read_yes_no(pl.Series(FIXED["yes/no"]))
    assert yes_no["value"].to_list() == [True, False]
    assert read_service_kind(pl.Series(SERVICE_KINDS))["value"].to_list() == list(SERVICE_KINDS)


def test_wrong_values_are_refused_in_plain_words(book: openpyxl.Workbook) -> None:
    found = rules(book, "drains")
    hours = found["oil_hours"]
    assert (hours.type, hours.operator or "between", float(hours.formula1), float(hours.formula2)) == (
        "decimal",
        "between",
        0.01,
        2000,
    )
    assert hours.errorStyle in (None, "stop")
    assert hours.error == (
        "Write oil_hours in h as a number without its unit: over 0, up to 2000. Leave the cell blank if nobody knows."
    )
    settle = found["settle_hours"]
    assert (float(settle.formula1), float(settle.formula2)) == (0, 90 * 24 * 60)
    assert (float(found["filled_ml"].formula1), float(found["filled_ml"].formula2)) == (0.01, 5000)
    assert found["meter_hours"].operator == "greaterThanOrEqual"
    day = found["drained_on"]
    # day 25569 of a workbook is 1 January 1970: ECMA-376 part 1, 18.17.4.1, the 1900 date system
    assert (day.type, int(day.formula1), day.formula2) == ("date", 25569, "TODAY()")
    ahead = rules(book, "bookings")["date"]
    assert (ahead.operator, int(ahead.formula1), ahead.formula2) == ("greaterThanOrEqual", 25569, None)
    for name in ("colour_rating", "milky", "service_kind"):
        assert found[name].type == "list"
        assert found[name].formula1.startswith('"')
    units = rules(book, "units")["unit_id"]
    assert (units.type, units.formula1, units.formula2) == ("textLength", "1", "64")


@pytest.mark.parametrize("column", COLUMNS, ids=lambda column: f"{column.table}.{column.name}")
def test_messages_fit_and_are_not_cut(column) -> None:
    """Source: Microsoft, data validation limits: titles of 32 and messages of 255 characters; lists inline of 255."""
    rule = rule_of(column, choices({}).of(column.name))
    assert len(column.heading) <= 32
    assert len(column.explanation) <= 255
    assert len(rule.get("error_title", "")) <= 32
    assert len(rule.get("error_message", "")) <= 255
    if isinstance(rule.get("source"), list):
        assert len(",".join(rule["source"])) <= 255
        assert not any("," in word for word in rule["source"])


def test_what_is_missing_is_hatched_and_not_only_coloured(book: openpyxl.Workbook) -> None:
    formulas = {
        str(area.sqref).split(":")[0][:-1]: (rule.formula[0], rule.dxf.fill.patternType)
        for area in book["drains"].conditional_formatting
        for rule in area.rules
    }
    places = {column.name: get_column_letter(place) for place, column in enumerate(entry_columns("drains"), start=1)}
    begun = f"COUNTA($A2:${get_column_letter(len(places))}2)>0"
    assert formulas["A"] == (f"AND({begun},ISBLANK($A2))", "lightUp")
    hours, meter, kind = (places[name] for name in ("oil_hours", "meter_hours", "service_kind"))
    assert formulas[hours][0] == f'AND({begun},ISBLANK(${hours}2),ISBLANK(${meter}2),${kind}2<>"top-up")'
    needed = {places[column.name] for column in entry_columns("drains") if column.required or column.alternatives}
    assert set(formulas) == needed


def test_scales_and_cautions_have_sheets_of_their_own(book: openpyxl.Workbook) -> None:
    colour, debris = (channel.scale for channel in CHANNELS)
    scales = [cell for row in book["scales"].iter_rows(values_only=True) for cell in row if cell]
    assert set(scales) >= {*colour, *debris, *HOW_TO_LOOK, *CAUTIONS[1:]}
    rows = list(book["scales"].iter_rows(min_row=4, max_row=8, values_only=True))
    assert rows == [(str(1 + level), colour[level], debris[level]) for level in range(5)]
    read_me = {row[1]: row for row in book["read me"].iter_rows(values_only=True)}
    assert all(column.heading in read_me for column in COLUMNS)
    said = [row[0] for row in book["read me"].iter_rows(values_only=True)]
    assert set(CAUTIONS[1:]) <= set(said)


def test_the_same_choices_give_the_same_bytes(path: Path, tmp_path: Path) -> None:
    write_entry_workbook(tmp_path / "again.xlsx", choices(NAMES), as_of=AS_OF)
    assert (tmp_path / "again.xlsx").read_bytes() == path.read_bytes()


def test_a_large_fleet_has_room_to_grow(tmp_path: Path) -> None:
    many = {"units": pl.DataFrame({"unit_id": [f"U{place}" for place in range(3000)]})}
    write_entry_workbook(tmp_path / "bench.xlsx", choices(many), as_of=AS_OF)
    book = openpyxl.load_workbook(tmp_path / "bench.xlsx")
    assert book["lists"]["A3001"].value == "U2999"
    assert "lists!$A$2:$A$3501" in book.defined_names["list_units"].attr_text


def test_a_folder_that_cannot_be_written_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        write_entry_workbook(tmp_path / "nowhere" / "bench.xlsx", choices({}), as_of=AS_OF)
    assert list(tmp_path.iterdir()) == []
