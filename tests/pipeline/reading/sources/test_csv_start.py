"""Cells between bars, as in a table of plain text, are read under the lines on which they stand."""

from pathlib import Path

import polars as pl
import pytest

from draincurve.pipeline.reading.cleaning.header_meaning import header_columns
from draincurve.pipeline.reading.sources.csv_file import read_csv_file
from draincurve.pipeline.reading.sources.reading_options import ReadingOptions
from draincurve.schemas.settings import Settings

HEADER = "| Unit | Date | Hours | Note |"
ROWS = ("| F01 | 2026-03-04 | 12,5 | a, b; c |", "| F02 | 2026-03-05 | | |")
RULE, FRAME = "|:---|---|---:|---|", "+-----+-----+-----+-----+"


def read(folder: Path, *lines: str, end: str = "\n") -> pl.DataFrame:
    path = folder / "log.md"
    path.write_bytes((end.join(lines) + end).encode())
    return read_csv_file(path, "drains", ReadingOptions(columns_of=header_columns(Settings()))).frame


@pytest.mark.parametrize(
    "lines",
    [
        (HEADER, RULE, *ROWS),
        ("# Drains of 2026", "", HEADER, RULE, *ROWS),
        (HEADER.replace(" ", ""), *[row.replace("| ", "|") for row in ROWS]),
        ("Unit|Date|Hours|Note", "F01|2026-03-04|12,5|a, b; c", "F02|2026-03-05||"),
        (FRAME, HEADER, FRAME.replace("-", "="), ROWS[0], FRAME, ROWS[1], FRAME),
    ],
)
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_cells_between_bars(tmp_path: Path, lines: tuple[str, ...], end: str) -> None:
    frame = read(tmp_path, *lines, end=end)
    cells = frame.select("Unit", "Date", "Hours", "Note").with_columns(pl.all().replace("", None)).rows()
    assert cells == [("F01", "2026-03-04", "12,5", "a, b; c"), ("F02", "2026-03-05", None, None)]
    assert [lines[line - 1].strip("| ")[:3] for line in frame["_line"]] == ["F01", "F02"]


def test_a_bar_in_a_cell_between_bars_holds_its_row_back(tmp_path: Path) -> None:
    frame = read(tmp_path, HEADER, RULE, ROWS[0], "| F02 | 2026-03-05 | 12 | a | b |")
    assert "is there a bar in a cell?" in frame["_fault"][1]
