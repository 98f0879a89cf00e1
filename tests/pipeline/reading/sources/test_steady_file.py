"""A file that somebody writes to while it is read."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.pipeline.reading.sources.steady_file import GROWING, steadily
from draincurve.schemas.errors import SourceError


class Reader:
    """Reads a file; during each of its first readings somebody writes, or the reading fails."""

    def __init__(self, path: Path, *, written: int, failing: int = 0) -> None:
        self.path, self.written, self.failing, self.readings = path, written, failing, 0

    def __call__(self) -> dict[str, SourceTable]:
        self.readings += 1
        rows = self.path.read_text().splitlines()
        if self.readings <= self.written:
            self.path.write_text("\n".join([*rows, "one more"]))
        if self.readings <= self.failing:
            raise SourceError("half a row")
        return {"drains": SourceTable("drains", "log.csv", "", pl.DataFrame({"row": rows}))}


@pytest.mark.parametrize(
    ("written", "readings", "rows", "notes"), [(0, 1, 1, ()), (1, 2, 2, ()), (9, 2, 2, (GROWING,))]
)
def test_it_is_read_once_more_and_then_said(
    tmp_path: Path, written: int, readings: int, rows: int, notes: tuple[str, ...]
) -> None:
    path = tmp_path / "log.csv"
    path.write_text("one")
    reader = Reader(path, written=written)
    found = steadily(path, reader)["drains"]
    assert (reader.readings, found.frame.height, found.notes) == (readings, rows, notes)


def test_a_fault_counts_only_where_nobody_wrote(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("one")
    assert steadily(path, Reader(path, written=1, failing=1))["drains"].frame.height == 2
    reader = Reader(path, written=0, failing=1)
    with pytest.raises(SourceError):
        steadily(path, reader)
    assert reader.readings == 1


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        steadily(tmp_path / "none.csv", Reader(tmp_path / "none.csv", written=0))
