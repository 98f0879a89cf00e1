"""Parquet files as text: typed columns are turned back into the text that a person would have typed."""

from __future__ import annotations

import io
from pathlib import Path

import polars as pl

from draincurve.pipeline.processing import LogProcessing
from draincurve.pipeline.reading.sources.bounds import refuse_many_columns
from draincurve.pipeline.reading.sources.column_text import column_text
from draincurve.pipeline.reading.sources.source_table import LINE, SourceTable, digest, file_bytes, with_headers
from draincurve.schemas.errors import SourceError


def read_parquet_file(path: Path, table: str, *, processing: LogProcessing) -> SourceTable:
    """A Parquet file as text: dates ISO, durations in hours, numbers in their shortest exact form.

    Rows without content are skipped, as in the other readers; lines are row numbers from 1. Columns are read one at a
    time, and a large file's are stored as categories, so that memory stays close to the size of the file. Raises
    SourceError for a file that is not Parquet, and for a column of lists or bytes.
    """
    content = file_bytes(path)
    headers, height = _headers_and_height(content, path)
    refuse_many_columns(len(headers), str(path))
    cells: list[pl.Series] = []
    filled = pl.repeat(False, height, dtype=pl.Boolean, eager=True)
    for index, name in enumerate(headers):
        text = column_text(_column(content, name, path=path), str(path)).alias(f"field_{index}")
        text = text.cast(pl.Categorical) if height >= processing.categorical_rows else text
        filled = filled | _has_text(text)
        cells.append(text)
    lines = pl.int_range(1, height + 1, dtype=pl.Int64, eager=True).alias(LINE)
    rows = pl.DataFrame([lines, *cells])
    if headers and not filled.all():
        rows = rows.filter(filled)
    frame, kept = with_headers(rows.drop(LINE), headers, line_columns=rows.select(LINE))
    return SourceTable(table, path.name, digest(content), frame, (), kept)


def _headers_and_height(content: bytes, path: Path) -> tuple[list[str], int]:
    try:
        file = pl.scan_parquet(io.BytesIO(content))
        return file.collect_schema().names(), int(file.select(pl.len()).collect().item())
    except (Exception, pl.exceptions.PanicException) as fault:  # a panic of the reader is no Exception
        raise _unreadable(path, fault) from fault


def _column(content: bytes, name: str, *, path: Path) -> pl.Series:
    try:
        return pl.read_parquet(io.BytesIO(content), columns=[name]).to_series()
    except (Exception, pl.exceptions.PanicException) as fault:
        raise _unreadable(path, fault) from fault


def _unreadable(path: Path, fault: BaseException) -> SourceError:
    reason = " ".join(str(fault).split())[:200]
    return SourceError(f"{path}: not a Parquet file that can be read ({reason}); write it again")


def _has_text(cells: pl.Series) -> pl.Series:
    """Whether each cell holds more than blanks."""
    if cells.dtype == pl.String:
        return (cells.str.strip_chars() != "").fill_null(False)
    blank = [text for text in cells.unique().cast(pl.String).drop_nulls() if not text.strip()]
    return cells.is_not_null() & ~cells.is_in(blank) if blank else cells.is_not_null()
