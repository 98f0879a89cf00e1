"""Bounds that hold for every kind of source: columns of a table, characters of a cell, bytes of a file."""

import sqlite3
from contextlib import closing

import polars as pl
import pytest

from draincurve.pipeline.reading.sources import bounds, frame_table, source_table
from draincurve.pipeline.reading.sources.read_tables import read_table
from draincurve.schemas.errors import SourceError

KINDS = ["csv", "parquet", "db", "xlsx"]


def written(folder, frame, kind):
    path = folder / f"drains.{kind}"
    if kind == "csv":
        frame.write_csv(path)
    elif kind == "parquet":
        frame.write_parquet(path)
    elif kind == "xlsx":
        frame.write_excel(path, "drains")
    else:
        with closing(sqlite3.connect(path)) as database:
            database.execute(f"CREATE TABLE drains ({', '.join(frame.columns)})")
            database.executemany(f"INSERT INTO drains VALUES ({', '.join('?' * frame.width)})", frame.rows())
            database.commit()
    return path


@pytest.mark.parametrize("kind", KINDS)
def test_columns(tmp_path, kind):
    frame = pl.DataFrame({f"c{n}": ["x"] for n in range(bounds.MOST_COLUMNS + 1)})
    with pytest.raises(SourceError, match=r"drains\.\w+.*; at most 1,000 (columns )?are read") as caught:
        read_table(written(tmp_path, frame, kind), "drains")
    assert "\n" not in str(caught.value)


def test_columns_of_a_frame():
    with pytest.raises(SourceError, match="drains frame: has 1,001 columns"):
        frame_table(pl.DataFrame({f"c{n}": ["x"] for n in range(1_001)}), "drains")


@pytest.mark.parametrize("kind", ["csv", "parquet", "db"])
def test_characters_of_a_cell(tmp_path, kind):
    """The row is held back, and all that is kept of the cell is its beginning."""
    frame = pl.DataFrame({"unit": ["F1", "F2", "F3"], "note": ["x" * 32_767, "y" * 40_000, "z"]})
    table = read_table(written(tmp_path, frame, kind), "drains")
    assert [fault and "40000 characters; at most 32,767" in fault for fault in table.frame["_fault"]] == [
        None,
        True,
        None,
    ]
    assert table.frame["note"].str.len_chars().to_list() == [32_767, 153, 1]


def test_bytes_of_a_file(tmp_path, monkeypatch):
    monkeypatch.setattr(source_table, "MOST_FILE_BYTES", 1_000_000)
    path = tmp_path / "log.csv"
    path.write_bytes(b"x" * 1_500_000)
    with pytest.raises(SourceError, match=r"log.csv: has 2 MB; at most 1 MB are read"):
        read_table(path, "drains")
