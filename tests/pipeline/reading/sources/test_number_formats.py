"""Units that only a number format shows are named."""

from datetime import date
from pathlib import Path

import openpyxl
import pytest

from draincurve.pipeline.reading.cleaning.header_meaning import header_columns
from draincurve.pipeline.reading.sources.number_formats import units_in_formats
from draincurve.pipeline.reading.sources.read_tables import read_log
from draincurve.pipeline.reading.sources.reading_options import ReadingOptions
from draincurve.schemas.settings import Settings


def workbook(path: Path, number_format: str) -> Path:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Unit", "Date", "Hours", "Oil", "Colour", "Spring", "Rider"])
    sheet.append(["F01", date(2026, 3, 4), 720, "5W", 2, "hard", "AB"])
    sheet["C2"].number_format = number_format
    book.save(path)
    return path


@pytest.mark.parametrize(("number_format", "unit"), [('0" min"', "min"), ('0.0" l"', "l"), ('0 "days"', "days")])
def test_a_unit_behind_a_number_is_named(tmp_path: Path, number_format: str, unit: str) -> None:
    path = workbook(tmp_path / "log.xlsx", number_format)
    assert units_in_formats(path.read_bytes()) == (unit,)
    notes = read_log(path, ReadingOptions(columns_of=header_columns(Settings())))["drains"].notes
    assert any(f"a number format shows '{unit}' behind numbers" in note for note in notes)


@pytest.mark.parametrize("number_format", ['0.0" h"', "0.00", '"level "0', "[h]:mm", '0" ml"', "dd/mm/yyyy"])
def test_other_formats_say_nothing(tmp_path: Path, number_format: str) -> None:
    assert units_in_formats(workbook(tmp_path / "log.xlsx", number_format).read_bytes()) == ()


@pytest.mark.parametrize("content", [b"", b"PK", b"not a workbook"])
def test_what_is_no_workbook_has_no_formats(content: bytes) -> None:
    assert units_in_formats(content) == ()
