"""Rows of a database as a table of text, with the cells that are no text set apart."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from draincurve.pipeline.reading.sources.source_table import (
    LINE,
    NO_TEXT,
    SourceTable,
    digest_of_rows,
    titled,
    unique_names,
)

_WHOLE_BELOW = 2.0**53


def column_text(values: Sequence[object]) -> tuple[pl.Series, pl.Series]:
    """One column of values as they come from Python's database drivers: its texts, and where none stands.

    Integers and text as they are; a whole real as an integer ("7", not "7.0": a unit's number is a name), another one
    as the shortest text that is the same number; nothing, bytes and text with a NUL as null. Both of shape (n,),
    String and Boolean.
    """
    kinds = set(map(type, values))
    if kinds <= {str, type(None)}:
        read = pl.Series(values, dtype=pl.String)
    elif kinds <= {int, type(None)}:
        read = pl.Series(values, dtype=pl.Int64).cast(pl.String)
    else:
        read = pl.Series([_cell_text(value) for value in values], dtype=pl.String)
    no_text = read.str.contains("\x00", literal=True).fill_null(False)
    if bytes in kinds:
        no_text |= pl.Series([isinstance(value, bytes) for value in values])
    return read.zip_with(~no_text, pl.Series([None], dtype=pl.String)), no_text


def rows_as_table(
    table: str, source: str, headers: Sequence[str], lines: pl.Series, cells: pl.DataFrame, blobs: pl.DataFrame
) -> SourceTable:
    """The table; rows without any content are no rows.

    headers : names of the columns, shape (c,). lines : shape (n,). cells : String, shape (n, c). blobs : Boolean,
    shape (n, c), true where a cell is no text.
    """
    names = unique_names(headers)
    own = [lines.cast(pl.Int64).alias(LINE)]
    unreadable = [name for name, column in zip(names, blobs.get_columns(), strict=True) if column.any()]
    if unreadable:
        marks = blobs.rename(dict(zip(blobs.columns, names, strict=True)))
        named = [pl.when(pl.col(name)).then(pl.lit(name)) for name in unreadable]
        own.append(marks.select(pl.concat_list(named).list.drop_nulls().alias(NO_TEXT)).to_series())
    full = [column.str.strip_chars().fill_null("") != "" for column in cells.get_columns()]
    kept = pl.DataFrame([mark.alias(str(i)) for i, mark in enumerate([*full, *blobs.get_columns()])])
    content = kept.select(pl.any_horizontal(pl.all())).to_series()
    own_rows = pl.DataFrame(own)
    digest = digest_of_rows(
        pl.DataFrame([*cells.rename(dict(zip(cells.columns, names, strict=True))).get_columns(), own[0]])
    )
    frame, found = titled(cells.filter(content), headers, own_rows.filter(content))
    return SourceTable(table, source, digest, frame, (), found)


def _cell_text(value: object) -> str | None:
    if value is None or isinstance(value, bytes):
        return None
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < _WHOLE_BELOW else repr(value)
    return str(value)
