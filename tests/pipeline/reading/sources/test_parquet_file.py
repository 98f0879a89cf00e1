"""Parquet with types, back to the text a person would have typed."""

from datetime import date, datetime, timedelta
from pathlib import Path

import polars as pl
import pytest

from draincurve.pipeline.reading.sources.read_tables import read_log
from draincurve.schemas.errors import SourceError


def test_typed_columns_as_text(tmp_path: Path) -> None:
    path = tmp_path / "log.parquet"
    pl.DataFrame(
        {
            "unit": ["F07", None, "F08"],
            "date": [date(2026, 3, 4), None, date(2026, 3, 5)],
            "at": [datetime(2026, 3, 4, 5, 6, 7), None, None],
            "hours": [12.5, None, 0.1],
            "colour": pl.Series([3, None, 2], dtype=pl.Int8),
            "leak": [True, None, False],
            "ridden": [timedelta(minutes=90), None, None],
            "oil": pl.Series(["5W", None, "10W"], dtype=pl.Categorical),
        }
    ).write_parquet(path)
    frame = read_log(path)["drains"].frame
    assert frame.rows() == [
        ("F07", "2026-03-04", "2026-03-04 05:06:07", "12.5", "3", "true", "1.5", "5W", 1),
        ("F08", "2026-03-05", None, "0.1", "2", "false", None, "10W", 3),
    ]


def test_whole_numbers_stored_as_floats_are_whole(tmp_path: Path) -> None:
    path = tmp_path / "log.parquet"
    pl.DataFrame({"unit": [7.0, None, 12.0], "hours": [7.0, 7.5, float("inf")]}).write_parquet(path)
    frame = read_log(path)["drains"].frame
    assert frame["unit"].to_list() == ["7", None, "12"]
    assert frame["hours"].to_list() == ["7.0", "7.5", "inf"]


def test_columns_without_text_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "log.parquet"
    pl.DataFrame({"unit": ["F07"], "ratings": [[1, 2]]}).write_parquet(path)
    with pytest.raises(SourceError, match="column ratings"):
        read_log(path)


def test_broken_file_is_refused_in_one_line(tmp_path: Path) -> None:
    path = tmp_path / "log.parquet"
    path.write_bytes(b"PAR1 and nothing else")
    with pytest.raises(SourceError, match="not a Parquet file") as caught:
        read_log(path)
    assert "\n" not in str(caught.value)


def test_a_name_does_not_decide_what_a_file_is(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    pl.DataFrame({"unit": ["F07"]}).write_parquet(path)
    assert read_log(path)["drains"].frame["unit"].to_list() == ["F07"]


def test_digest_is_that_of_the_file(tmp_path: Path) -> None:
    """SHA-256 of the text "abc" is published in FIPS 180-2, appendix B.1."""
    from draincurve.pipeline.reading.sources.source_table import digest

    assert digest(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    path = tmp_path / "log.csv"
    path.write_bytes(b"unit\nF07\n")
    assert read_log(path)["drains"].sha256 == digest(b"unit\nF07\n")


def test_days_of_no_calendar_year_are_cells_and_no_panic(tmp_path):
    numbers = [20_000, 2**31 - 1, -(2**31), None, 20_260_304]
    days = pl.Series("date", numbers, dtype=pl.Int32).cast(pl.Date)
    times = pl.Series("at", [0, 2**62, -(2**62), None, 1], dtype=pl.Int64).cast(pl.Datetime("us", "Europe/Berlin"))
    shortest = pl.Series("ns", [0, 2**62, -(2**62), None, 1], dtype=pl.Int64).cast(pl.Datetime("ns"))
    path = tmp_path / "log.parquet"
    pl.DataFrame([days, times, shortest]).write_parquet(path)
    frame = read_log(path)["drains"].frame
    assert frame["date"].to_list() == ["2024-10-04", "number 2147483647", "number -2147483648", "number 20260304"]
    assert frame["at"].to_list()[:2] == ["1970-01-01 01:00:00", "number 4611686018427387904"]
    assert frame["ns"].to_list()[:2] == ["1970-01-01 00:00:00", "2116-02-20 23:53:38"]


def test_the_first_and_the_last_day_are_days(tmp_path):
    path = tmp_path / "log.parquet"
    pl.DataFrame({"date": [date.min, date.max], "at": [datetime.min, datetime.max]}).write_parquet(path)
    assert read_log(path)["drains"].frame.rows() == [
        ("0001-01-01", "0001-01-01 00:00:00", 1),
        ("9999-12-31", "9999-12-31 23:59:59", 2),
    ]
