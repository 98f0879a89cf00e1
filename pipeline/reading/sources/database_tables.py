"""Tables of a database: finding one by its name, and turning its rows into a table of text."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches

import polars as pl

from draincurve.pipeline.reading.sources.source_table import (
    LINE,
    NO_TEXT,
    SourceTable,
    digest_of_rows,
    unique_names,
    with_headers,
)
from draincurve.schemas.columns import TABLES
from draincurve.schemas.errors import SourceError

_WHOLE_BELOW = 2.0**53
_MOST_NAMED = 12


def contract_tables(names: Sequence[str], where: str) -> dict[str, str]:
    """Names of the database's tables by the contract's names, matched in any case, drains first.

    Raises SourceError where there are no drains, or where two names differ only by case.
    """
    table_names: dict[str, str] = {}
    for table in TABLES:
        same = [name for name in names if name.casefold() == table]
        if len(same) > 1:
            raise SourceError(f"{where}: tables {' and '.join(same)} are both {table}; name one behind a #")
        if same:
            table_names[table] = same[0]
    if "drains" not in table_names:
        raise SourceError(
            f"{where}: no table named drains; {_tables_text(names)}; name the one with the oil changes behind a #"
        )
    return table_names


def chosen_table(wanted: str, names: Sequence[str], *, where: str) -> str:
    """The table of that name, exactly or else in any case. Raises SourceError, listing the tables and the nearest."""
    if wanted in names:
        return wanted
    same = [name for name in names if name.casefold() == wanted.casefold()]
    if len(same) == 1:
        return same[0]
    by_key = {name.casefold(): name for name in names}
    near = get_close_matches(wanted.casefold(), by_key, n=1)
    meant = f"; is {by_key[near[0]]} meant?" if near else ""
    raise SourceError(f"{where}: no table named {wanted}; {_tables_text(names)}{meant}")


def _tables_text(names: Sequence[str]) -> str:
    """The tables that the database has, in words."""
    if not names:
        return "there are no tables that this user may see"
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    return f"the tables there are {', '.join(names[:_MOST_NAMED])}{more}"


def column_text(values: Sequence[object]) -> tuple[pl.Series, pl.Series]:
    """Texts of one column as Python's database drivers return it, and whether each cell is no text; shapes (n,).

    Integers and text are taken as they are. A whole real is an integer ("7", not "7.0": a unit's number is a name),
    another the shortest text of the same number. NULL, bytes and text with a NUL give null; the last two are no text.
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
    table: str, source: str, *, headers: Sequence[str], lines: pl.Series, cells: pl.DataFrame, blobs: pl.DataFrame
) -> SourceTable:
    """The table without its empty rows.

    headers : names of the columns, shape (c,). lines : shape (n,). cells : String, shape (n, c). blobs : Boolean,
    shape (n, c), true where a cell is no text.
    """
    names = unique_names(headers)
    line_columns = [lines.cast(pl.Int64).alias(LINE)]
    unreadable = [name for name, column in zip(names, blobs.get_columns(), strict=True) if column.any()]
    if unreadable:
        marks = blobs.rename(dict(zip(blobs.columns, names, strict=True)))
        named = [pl.when(pl.col(name)).then(pl.lit(name)) for name in unreadable]
        line_columns.append(marks.select(pl.concat_list(named).list.drop_nulls().alias(NO_TEXT)).to_series())
    full = [column.str.strip_chars().fill_null("") != "" for column in cells.get_columns()]
    kept = pl.DataFrame([mark.alias(str(i)) for i, mark in enumerate([*full, *blobs.get_columns()])])
    content = kept.select(pl.any_horizontal(pl.all())).to_series()
    line_rows = pl.DataFrame(line_columns)
    digest = digest_of_rows(
        pl.DataFrame([*cells.rename(dict(zip(cells.columns, names, strict=True))).get_columns(), line_columns[0]])
    )
    frame, kept_headers = with_headers(cells.filter(content), headers, line_columns=line_rows.filter(content))
    return SourceTable(table, source, digest, frame, (), kept_headers)


def _cell_text(value: object) -> str | None:
    if value is None or isinstance(value, bytes):
        return None
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < _WHOLE_BELOW else repr(value)
    return str(value)


def quoted_name(name: str) -> str:
    """A name as SQL takes it, whatever is in it."""
    doubled = name.replace('"', '""')
    return f'"{doubled}"'
