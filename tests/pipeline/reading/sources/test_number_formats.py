"""A unit that only a number format shows is read with the number, as a person reads it."""

from datetime import date
from pathlib import Path

import openpyxl
import pytest

from draincurve.pipeline.reading.cleaning.header_meaning import header_columns
from draincurve.pipeline.reading.sources.read_tables import read_log
from draincurve.pipeline.reading.sources.reading_options import ReadingOptions
from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.schemas.settings import Settings


def read(path: Path, *formats: str, value: object = 720) -> SourceTable:
    """A log with a row for each format of its hours; column A is empty."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append([None, "Unit", "Date", "Hours", "Oil", "Colour", "Spring", "Rider"])
    for row, number_format in enumerate(formats, 2):
        sheet.append([None, "F01", date(2026, row, 4), value, "5W", 2, "hard", "AB"])
        sheet.cell(row, 4).number_format = number_format
    book.save(path)
    return read_log(path, ReadingOptions(columns_of=header_columns(Settings())))["drains"]


@pytest.mark.parametrize(
    ("number_format", "unit"),
    [('0" min"', "min"), ('0.0" l"', "l"), ('0 "days"', "days"), ('0" laps";-0" laps"', "laps")],
)
def test_a_unit_behind_a_number_is_read_and_its_column_named(tmp_path: Path, number_format: str, unit: str) -> None:
    log = read(tmp_path / "log.xlsx", number_format, "0.0", number_format)
    assert log.frame["Hours"].to_list() == [f"720 {unit}", "720", f"720 {unit}"]
    assert f"sheet 'Sheet': numbers in column D (2) are shown with '{unit}' by a format, and read so" in log.notes


@pytest.mark.parametrize(("number_format", "text"), [('0.0" h"', "720 h"), ('0" ml"', "720 ml")])
def test_the_usual_unit_needs_no_note(tmp_path: Path, number_format: str, text: str) -> None:
    log = read(tmp_path / "log.xlsx", number_format)
    assert log.frame["Hours"].to_list() == [text]
    assert log.notes == ()


@pytest.mark.parametrize("number_format", ["0.00", '"level "0', "General", '0;"none"'])
def test_other_formats_say_nothing(tmp_path: Path, number_format: str) -> None:
    log = read(tmp_path / "log.xlsx", number_format)
    assert (log.frame["Hours"].to_list(), log.notes) == (["720"], ())


def test_a_text_is_left_as_it_is(tmp_path: Path) -> None:
    assert read(tmp_path / "log.xlsx", '0" min"', value="45 min").frame["Hours"].to_list() == ["45 min"]
