"""Times and durations of ODS files, and workbooks in three formats as a spreadsheet program wrote them."""

from datetime import date
from pathlib import Path

import polars as pl
import pytest
from test_confined_reader import ods

from draincurve.pipeline.reading import RunInputs, read
from draincurve.pipeline.reading.sources import source_address
from draincurve.pipeline.reading.sources.read_tables import read_log
from draincurve.schemas.errors import SourceError
from draincurve.schemas.settings import Settings

WRITTEN = Path(__file__).parent / "written_by_a_spreadsheet_program"
"""One log, saved in both formats: row 4 has a formula for its hours, rows 5 to 7 have durations and a time of day."""


def text(cell):
    return f'<table:table-cell office:value-type="string"><text:p>{cell}</text:p></table:table-cell>'


def time(value, repeated=1):
    return (
        f'<table:table-cell table:number-columns-repeated="{repeated}" office:value-type="time" '
        f'office:time-value="{value}"><text:p>shown</text:p></table:table-cell>'
    )


def row(*cells, repeated=1):
    return f'<table:table-row table:number-rows-repeated="{repeated}">{"".join(cells)}</table:table-row>'


def table(path, *rows):
    body = f'<table:table table:name="drains">{"".join(rows)}</table:table>'
    return read_log(ods(path / "log.ods", body))["drains"].frame


@pytest.mark.parametrize(
    ("value", "read_as"),
    [
        ("PT12H30M00S", "12:30"),
        ("PT33H05M00S", "33:05"),
        ("PT11H15M20.5000S", "11:15:20"),
        ("P1DT2H", "26:00"),
        ("PT45M", "0:45"),
        ("half past", None),
    ],
)
def test_a_duration_is_read_as_it_is_shown(tmp_path, value, read_as):
    found = table(tmp_path, row(text("unit"), text("hours")), row(text("F1"), time(value)))
    assert found.get_column("hours").to_list() == [read_as]


def test_times_stay_in_their_cells(tmp_path):
    """Past blank columns and rows, and where a cell or a row stands for several."""
    blank = '<table:table-cell table:number-columns-repeated="3"/>'
    found = table(
        tmp_path,
        row(blank, text("unit"), text("hours"), text("settle")),
        row(blank, repeated=2),
        row(blank, text("F1"), time("PT2H", repeated=2), repeated=2),
        row(blank, text("F2"), text("9"), time("PT10M")),
    )
    assert found.select("_line", "unit", "hours", "settle").rows() == [
        (4, "F1", "2:00", "2:00"),
        (5, "F1", "2:00", "2:00"),
        (6, "F2", "9", "0:10"),
    ]


def test_times_are_bounded(tmp_path):
    with pytest.raises(SourceError, match="cells hold times; save it as XLSX"):
        table(tmp_path, row(text("unit"), text("hours")), row(text("F1"), time("PT2H", repeated=2000), repeated=2000))


@pytest.mark.parametrize("name", ["log.xls", "log.ods"])
def test_workbooks_that_a_spreadsheet_program_wrote(name):
    log = read(RunInputs(source_address(str(WRITTEN / name)), date(2026, 6, 20)), Settings())
    drains = log.accepted["drains"].sort("line")
    assert drains.height == 22
    assert log.held_back["line"].to_list() == [12, 13], "a merged cell counts in its first row only"
    assert drains.select("line", "drained_on", "oil_hours").rows()[:6] == [
        (2, date(2026, 6, 10), 11.8),
        (3, date(2026, 5, 31), 14.2),
        (4, date(2026, 5, 21), 11.5),
        (5, date(2026, 5, 11), 12.5),
        (6, date(2026, 5, 1), 33.0),
        (7, date(2026, 4, 21), 11.25),
    ]
    said = log.remarks.filter(pl.col("kind") == "note")["message"].to_list()
    assert "hidden, so not read: sheet 'Old'; --hidden reads what is hidden" in said
    assert "not read, since the header is no log's: sheet 'Notes' (1 row in all)" in said
    assert "sheet 'Log': hidden rows, merged cells, comments and struck-through text are seen only in XLSX" in said
