"""A note with commas but no quotation marks is joined only where no other cell can have moved."""

from __future__ import annotations

from pathlib import Path

import pytest

from draincurve.pipeline.reading.cleaning.header_meaning import header_columns
from draincurve.pipeline.reading.sources.csv_file import read_csv_file
from draincurve.pipeline.reading.sources.reading_options import ReadingOptions
from draincurve.pipeline.reading.sources.source_table import FAULT
from draincurve.schemas.settings import Settings

HEADER = "unit,date,hours,oil,colour,debris,spring,rider,note"
ROWS = (
    "F1,2026-03-04,12,Fork 5,2,2,Plain,Anna,ok",
    "F2,2026-03-05,9,Fork 5,1,2,Plain,Bo,",
    "F1,2026-04-04,8,Fork 5,2,3,Plain,Anna,",
    "F2,2026-04-05,11.5,Fork 5,2,2,Plain,Bo,dry",
)


def read(folder: Path, *lines: str):
    (folder / "log.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return read_csv_file(folder / "log.csv", "drains", ReadingOptions(columns_of=header_columns(Settings())))


@pytest.mark.parametrize("mark", [",", ";"])
@pytest.mark.parametrize("note", ["new seals, bushes fine", "one, two, three", "bled,", "left, 2 clicks out"])
def test_the_parts_of_a_note_are_joined(tmp_path: Path, note: str, mark: str) -> None:
    typed = f"F2,2026-05-01,10,Fork 5,2,2,Plain,Bo,{note}"
    source = read(tmp_path, *(line.replace(",", mark) for line in (HEADER, *ROWS, typed)))
    assert FAULT not in source.frame.columns
    assert source.frame["note"].to_list()[-1] == note.replace(",", mark)
    assert "1 rows have" in source.notes[-1]


@pytest.mark.parametrize(
    "typed",
    [
        "F2,2026-05-01,10,Fork 5, light,2,2,Plain,Bo,ok",
        "F2,2026-05-01,10,5,Fork 5,2,2,Plain,Bo,ok",
        "F2,2026-05-01,10,Fork 5,2,2,Plain, long,Bo,ok",
        "F2,2026-05-01,10,Fork 5,2,2,Plain,Bo,3,ok",
        "F2,2026-05-01,10,Fork 5,2,2,Plain,Bo,,ok",
        "F2,2026-05-01,10,Fork 5,2,2,Plain,Cy,new seals, ok",
        ",F2,2026-05-01,10,Fork 5,2,2,Plain,Bo,ok",
    ],
)
def test_a_row_whose_cells_may_have_moved_is_a_fault(tmp_path: Path, typed: str) -> None:
    source = read(tmp_path, HEADER, *ROWS, typed)
    assert source.frame[FAULT].drop_nulls().str.starts_with("the row has 10 cells").to_list() == [True]


def test_behind_the_last_name_a_decimal_comma_may_have_moved_cells(tmp_path: Path) -> None:
    header = "unit,date,oil,spring,rider,hours,colour,debris,leak,note"
    rows = [f"F{at % 2},2026-03-{at + 4:02d},Fork 5,Plain,Bo,{9 + at},2,2,no,ok" for at in range(4)]
    moved = "F1,2026-05-01,Fork 5,Plain,Bo,12,5,2,1,no,dusty"
    assert read(tmp_path, header, *rows, moved).frame[FAULT].null_count() == 4


def test_a_log_whose_last_column_is_no_note_joins_nothing(tmp_path: Path) -> None:
    lines = [row.rsplit(",", 1)[0] for row in (HEADER, *ROWS)]
    assert read(tmp_path, *lines, "F2,2026-05-01,10,Fork 5,2,2,Plain,Bo,ok").frame[FAULT].null_count() == 4
