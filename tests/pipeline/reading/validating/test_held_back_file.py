"""Rows held back, at hand while they are few and on disk where they are many."""

from datetime import date

import polars as pl
import pytest
from polars.testing import assert_frame_equal

from draincurve.pipeline.processing import LogProcessing
from draincurve.pipeline.reading.sources.read_tables import read_log
from draincurve.pipeline.reading.validating.checked_log import check_log
from draincurve.pipeline.reading.validating.held_back_file import gathered
from draincurve.reports.output.report_files import write_held_back
from draincurve.schemas.settings import Settings

HEADER = (
    "unit_id;drained_on;oil_hours;oil_grade;filled_ml;drained_ml;colour_rating;debris_rating;rated_by;"
    "spring_type;rider"
)
ROWS = [
    "F01;2026-04-13;12;5W;480;470;2;2;XY;hard;AB",
    "F01;2026-04-14;12;5W;480;470;9;2;XY;hard;AB",
    "F02;2026-04-13;-3;5W;480;470;2;2;XY;hard;AB",
    "F02;2026-04-13;12;5W;480;470;2;2;XY;hard;AB",
    "F02;2026-04-13;12;5W;480;470;0;2;UV;hard;AB",
    "F03;never;12;5W;480;470;2;2;XY;hard;AB",
    "F04;2026-04-13;12;5W;480",
    "F05;2026-04-13;=900;5W;480;470;2;2;XY;hard;AB",
]


def pieces(*heights):
    start = 0
    for height in heights:
        yield pl.DataFrame({"line": range(start, start + height)}, schema={"line": pl.Int64})
        start += height


@pytest.mark.parametrize("heights", [(0,), (3,), (0, 2, 3), (5,)])
def test_few_rows_stay_in_memory(heights):
    table, file = gathered(pieces(*heights), most=5)
    assert file is None
    assert table["line"].to_list() == list(range(sum(heights)))


@pytest.mark.parametrize("heights", [(6,), (0, 5, 1), (2, 9, 0, 4), (1, 1, 1, 1, 1, 1, 1)])
def test_of_many_the_first_are_at_hand_and_all_are_on_disk_in_order(heights):
    table, file = gathered(pieces(*heights), most=5)
    assert file is not None
    assert table["line"].to_list() == [0, 1, 2, 3, 4]
    assert file.height == sum(heights)
    assert pl.concat(list(file.pieces()))["line"].to_list() == list(range(file.height))


def test_the_file_goes_with_its_object():
    _, file = gathered(pieces(6), most=5)
    folder = file.folder
    assert folder.is_dir()
    del file
    assert not folder.exists()


def checked(folder, processing):
    path = folder / "log.csv"
    path.write_text("\n".join([HEADER, *ROWS]) + "\n", encoding="utf-8")
    return check_log(read_log(path), Settings(), as_of=date(2026, 11, 25), processing=processing)


def test_a_log_told_in_pieces_on_disk_is_told_as_in_memory(tmp_path):
    whole = checked(tmp_path, LogProcessing())
    parted = checked(tmp_path, LogProcessing(held_back_in_memory=3, piece_rows=2))
    assert whole.held_back_file is None
    assert whole.held_back.height > 5
    assert parted.held_back.height == 3
    assert parted.held_back_file.height == whole.held_back.height
    assert_frame_equal(pl.concat(list(parted.held_back_file.pieces())), whole.held_back)
    assert parted.accounts == whole.accounts
    for name, log in {"whole": whole, "parted": parted}.items():
        write_held_back(log.held_back, log.held_back_file, folder=tmp_path / name)
    written = (tmp_path / "whole" / "held_back.csv").read_bytes()
    assert (tmp_path / "parted" / "held_back.csv").read_bytes() == written
    assert b"'=900" in written
