"""A pandas, polars or Arrow frame as a table: its cells become the text that a CSV file would hold."""

from __future__ import annotations

import sys
from datetime import time
from typing import Any

import numpy as np
import polars as pl

from draincurve.pipeline.reading.sources.bounds import refuse_many_columns
from draincurve.pipeline.reading.sources.column_text import column_text
from draincurve.pipeline.reading.sources.source_table import LINE, SourceTable, digest_of_rows, with_headers
from draincurve.schemas.errors import SourceError


def is_frame(given: object) -> bool:
    """Whether something is a pandas, polars or Arrow frame."""
    arrow = hasattr(given, "__arrow_c_stream__") and hasattr(given, "columns")  # a series has no columns
    return arrow or isinstance(given, pl.LazyFrame)


def frame_columns(frame: Any) -> list[tuple[str, pl.Series]]:
    """Header and values of each column; levels of an index that have a name come first.

    A column of pandas that mixes kinds, such as 3 and "2-3", becomes text. A missing value of any kind is null.
    """
    pandas = sys.modules.get("pandas")
    if pandas is None or not isinstance(frame, pandas.DataFrame):
        arrow = frame.collect() if isinstance(frame, pl.LazyFrame) else pl.DataFrame(frame)
        return [(column.name, _without_nan(column)) for column in arrow.get_columns()]
    named = [level for level in frame.index.names if level is not None]
    whole = frame.reset_index(named, allow_duplicates=True) if named else frame
    return [(str(header), _of_pandas(whole.iloc[:, index])) for index, header in enumerate(whole.columns)]


def frame_table(frame: Any, table: str) -> SourceTable:
    """A frame as a table as typed; a line is a row of the frame, counted from 1.

    A row whose every cell is empty is skipped, as in the other readers. Raises SourceError for a column that has no
    text (lists, bytes) and for drains without a row.
    """
    source = f"{table} frame"
    columns = frame_columns(frame)
    headers = [header for header, _ in columns]
    refuse_many_columns(len(headers), source)
    texts = [column_text(column, source).alias(f"field_{index}") for index, (_, column) in enumerate(columns)]
    filled = pl.any_horizontal(pl.lit(False), *[pl.col(text.name).str.strip_chars() != "" for text in texts])
    rows = pl.DataFrame(texts).with_row_index(LINE, offset=1).filter(filled)
    if table == "drains" and not rows.height:
        raise SourceError(f"{source}: no row in it; expected one row for each oil change")
    content, kept = with_headers(rows.drop(LINE), headers, line_columns=rows.select(pl.col(LINE).cast(pl.Int64)))
    return SourceTable(table, source, digest_of_rows(content), content, (), kept)


def _of_pandas(column: Any) -> pl.Series:
    kind = getattr(column.dtype, "kind", "O")
    if kind == "M":
        values = _times(column)
    elif isinstance(column.dtype, np.dtype) and kind != "O":
        values = _without_nan(pl.Series(column.to_numpy()))
    else:  # texts, categories, types of pandas that know a missing value, and columns that mix kinds
        missing = column.isna()
        return _of_cells([None if gone else value for value, gone in zip(column, missing, strict=True)], kind)
    days_only = isinstance(values.dtype, pl.Datetime) and bool((values.dt.time() == time()).all())
    return values.dt.date() if days_only else values  # pandas has no type of its own for days


def _of_cells(cells: list[Any], kind: str) -> pl.Series:
    """Cells of one kind as they are, of several kinds as texts. kind : as numpy calls it, "O" for several."""
    if kind in "iufb":
        return pl.Series(cells)
    return pl.Series([None if cell is None else _cell_text(cell) for cell in cells], dtype=pl.String)


def _times(column: Any) -> pl.Series:
    """Times of pandas, of whatever unit and zone; a time with a zone is that of its clocks."""
    local = column.dt.tz_localize(None) if column.dt.tz is not None else column
    return pl.Series(local.astype("datetime64[us]").to_numpy())


def _cell_text(value: object) -> str:
    return str(int(value)) if isinstance(value, float) and value.is_integer() else str(value)


def _without_nan(column: pl.Series) -> pl.Series:
    return column.fill_nan(None) if column.dtype.is_float() else column
