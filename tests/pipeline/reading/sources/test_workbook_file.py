"""Workbooks as text: no row lost, row numbers of the sheet, values as their text."""

from datetime import date, datetime
from pathlib import Path

import openpyxl
import pytest

from draincurve.pipeline.reading.cleaning.header_meaning import header_columns
from draincurve.pipeline.reading.sources.read_tables import read_log, read_table
from draincurve.pipeline.reading.sources.reading_options import ReadingOptions
from draincurve.schemas.errors import SourceError
from draincurve.schemas.settings import Settings

HOW = ReadingOptions(columns_of=header_columns(Settings()))
HEADER: list[object] = ["Unit", "Date", "Hours", "Oil", "Colour", "Spring", "Rider"]


def drain(unit: str) -> list[object]:
    return [unit, date(2026, 3, 4), 12, "5W", 2, "hard", "AB"]


def workbook(path: Path, sheets: dict[str, list[list[object]]]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row, cells in enumerate(rows, start=1):
            for column, cell in enumerate(cells, start=1):
                sheet.cell(row, column, cell)
    book.save(path)
    return path


def test_rows_above_and_between_keep_the_row_numbers(tmp_path: Path) -> None:
    rows: list[list[object]] = [
        [None, None],
        ["unit", "hours", "date"],
        ["007", 12, date(2026, 3, 4)],
        [None, None],
        ["F08", 12.25, datetime(2026, 3, 5, 14, 30)],
        ["F09", "12 h", None],
    ]
    table = read_log(workbook(tmp_path / "log.xlsx", {"Log": rows}))["drains"]
    assert table.source == "log.xlsx[Log]"
    assert table.frame["_line"].to_list() == [3, 5, 6]
    assert table.frame["unit"].to_list() == ["007", "F08", "F09"]
    assert table.frame["hours"].to_list() == ["12", "12.25", "12 h"]
    assert table.frame["date"].to_list() == ["2026-03-04", "2026-03-05 14:30:00", None]


def test_a_late_text_below_many_numbers_is_not_lost(tmp_path: Path) -> None:
    rows: list[list[object]] = [["unit", "hours"], *[["F07", n] for n in range(1, 1500)], ["F07", "12 h"]]
    table = read_log(workbook(tmp_path / "log.xlsx", {"drains": rows}))["drains"]
    assert table.frame.height == 1500
    assert table.frame["hours"][-1] == "12 h"


def test_sheets_are_found_by_name_in_any_case(tmp_path: Path) -> None:
    path = workbook(
        tmp_path / "log.xlsx",
        {
            "Read me": [["hello"], ["there"]],
            "UNITS ": [["unit"], ["F07"]],
            "Drains": [["unit"], ["F08"]],
            "bookings": [],
        },
    )
    tables = read_log(path)
    assert sorted(tables) == ["drains", "units"]
    assert tables["drains"].frame["unit"].to_list() == ["F08"]
    assert read_table(path, "units").frame["unit"].to_list() == ["F07"]


def test_first_other_sheet_is_the_drains(tmp_path: Path) -> None:
    path = workbook(tmp_path / "log.xlsx", {"units": [["unit"], ["F07"]], "2026": [["unit"], ["F08"]]})
    assert read_log(path)["drains"].source == "log.xlsx[2026]"


@pytest.mark.parametrize(
    ("sheets", "wording"),
    [
        ({"units": [["unit"], ["F07"]]}, "no sheet of drains"),
        ({"drains": []}, "no rows of drains"),
        ({"drains": [["unit", "hours"]]}, "no row below it"),
        ({"drains": [["unit"], ["F07"]], "Drains ": [["unit"], ["F07"]]}, "are both drains"),
    ],
)
def test_refused(tmp_path: Path, sheets: dict[str, list[list[object]]], wording: str) -> None:
    with pytest.raises(SourceError, match=wording):
        read_log(workbook(tmp_path / "log.xlsx", sheets))


def test_not_a_workbook(tmp_path: Path) -> None:
    path = tmp_path / "log.xlsx"
    path.write_bytes(b"PK\x03\x04 this is no workbook")
    with pytest.raises(SourceError, match="not a workbook") as caught:
        read_log(path)
    assert "\n" not in str(caught.value)


def test_every_sheet_with_a_log_is_read_one_after_the_other(tmp_path: Path) -> None:
    sheets: dict[str, list[list[object]]] = {
        "Notes": [["ring the customer"], ["buy oil"]],
        "2025": [["Fork log 2025"], [None], HEADER, drain("F1"), drain("F2")],
        "2026": [HEADER, drain("F3")],
        "2027": [HEADER],
        "Pivot": [["Unit", "Hours"], ["F1", 12]],
        "units": [["unit_id"], ["F1"]],
    }
    path = workbook(tmp_path / "log.xlsx", sheets)
    tables = read_log(path, HOW)
    drains = tables["drains"]
    assert sorted(tables) == ["drains", "units"]
    assert [part.source for part in drains.parts] == ["log.xlsx[2025]", "log.xlsx[2026]"]
    assert drains.frame.select("Unit", "_line", "_source").rows() == [
        ("F1", 4, "log.xlsx[2025]"),
        ("F2", 5, "log.xlsx[2025]"),
        ("F3", 2, "log.xlsx[2026]"),
    ]
    assert drains.notes == ("not read, since the header is no log's: sheets 'Notes', 'Pivot' (4 rows in all)",)
    assert drains.parts[0].notes == ("line 1 is a title above the header ('Fork log 2025'), not a row",)
    several = read_log(tmp_path / "l*.xlsx", HOW)["drains"]
    assert [part.source for part in several.parts] == ["log.xlsx[2025]", "log.xlsx[2026]"]
    assert several.notes == (
        "log.xlsx: not read, since the header is no log's: sheets 'Notes', 'Pivot' (4 rows in all)",
    )


def test_a_sheet_named_drains_and_another_log_are_both_read(tmp_path: Path) -> None:
    path = workbook(tmp_path / "log.xlsx", {"old": [HEADER, drain("F1")], "Drains": [HEADER, drain("F2")]})
    assert [part.source for part in read_log(path, HOW)["drains"].parts] == ["log.xlsx[Drains]", "log.xlsx[old]"]


def test_without_a_log_the_sheet_that_is_most_like_one_is_refused_by_name(tmp_path: Path) -> None:
    path = workbook(tmp_path / "log.xlsx", {"Notes": [["hello"]], "Work": [["Unit", "Date", "Hours"], ["F1", 1, 2]]})
    assert read_log(path, HOW)["drains"].source == "log.xlsx[Work]"


def test_rows_above_the_header_of_a_sheet_are_held_back(tmp_path: Path) -> None:
    path = workbook(tmp_path / "log.xlsx", {"Log": [drain("F1"), HEADER, drain("F2")]})
    faults = read_log(path, HOW)["drains"].frame["_fault"].to_list()
    assert faults == ["the row is above the header in line 2: move it below", None]
