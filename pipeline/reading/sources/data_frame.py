"""A pandas, polars or Arrow frame as a table: its cells become the text that a CSV file would hold."""

from __future__ import annotations

import sys
from datetime import time
from typing import Any

import polars as pl

from draincurve.pipeline.reading.sources.bounds import refuse_many_columns
from draincurve.pipeline.reading.sources.source_table import LINE, SourceTable, digest_of_rows, with_headers
from draincurve.pipeline.reading.sources.typed_text import typed_text
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
    texts = [typed_text(column, source).alias(f"field_{index}") for index, (_, column) in enumerate(columns)]
    filled = pl.any_horizontal(pl.lit(False), *[pl.col(text.name).str.strip_chars() != "" for text in texts])
    rows = pl.DataFrame(texts).with_row_index(LINE, offset=1).filter(filled)
    if table == "drains" and not rows.height:
        raise SourceError(f"{source}: no row in it; expected one row for each oil change")
    found, kept = with_headers(rows.drop(LINE), headers, own=rows.select(pl.col(LINE).cast(pl.Int64)))
    return SourceTable(table, source, digest_of_rows(found), found, (), kept)


def _of_pandas(column: Any) -> pl.Series:
    if column.dtype == object:
        missing = column.isna()
        texts = [None if gone else _cell_text(value) for value, gone in zip(column, missing, strict=True)]
        return pl.Series(texts, dtype=pl.String)
    values: pl.Series = pl.from_pandas(column, nan_to_null=True)
    days_only = isinstance(values.dtype, pl.Datetime) and bool((values.dt.time() == time()).all())
    return values.dt.date() if days_only else values  # pandas has no type of its own for days


def _cell_text(value: object) -> str:
    return str(int(value)) if isinstance(value, float) and value.is_integer() else str(value)


def _without_nan(column: pl.Series) -> pl.Series:
    return column.fill_nan(None) if column.dtype.is_float() else column
