"""Rows of a CSV file whose note, the last cell, has delimiters in it without quotation marks.

`F02,2026-03-01,10,Fork 5,2,2,Plain,Bo,new seals, bushes fine` has a cell too many, and anybody can read it. It is
joined only where every cell before the note can be nowhere else: names are those of other rows, and no number begins
the note, since a decimal comma might have moved one there.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import polars as pl

from draincurve.pipeline.reading.sources.csv_records import Record
from draincurve.schemas.columns import FREE_TEXT, TABLES, Column

_KINDS = {
    "rating": re.compile(r"[1-5](?:[.,]5|\s*[-/+]\s*[1-5]?)?"),
    "date": re.compile(r"\d{1,4}[-/. ]+(?:\d|[^\W\d]).*"),
    "yes/no": re.compile(r"\D*|[01]"),
}
_NUMBER = re.compile(r"[-+]?\d+(?:[.,:]\d+)*\s*[^\W\d]{0,8}")
_WHOLE = re.compile(r"\d{1,4}")
_BEGINS_WITH_A_NUMBER = re.compile(r"[-+]?\d")


def split_notes(
    uneven: Sequence[Record], cells: pl.DataFrame, table: str, *, columns: Sequence[str | None], delimiter: str
) -> Mapping[int, str]:
    """The note of each such record, by its line.

    uneven : records of another width than the header. cells : of all rows, cut or filled up to the header's width.
    columns : the column that each header names, None where none
    """
    known = {column.name: column for column in TABLES[table]}
    definitions = [known.get(name) if name is not None else None for name in columns]
    last = definitions[-1] if definitions else None
    wide = [record for record in uneven if len(record.cells) > len(columns) and record.fault is None]
    if last is None or last.name not in FREE_TEXT or not wide:
        return {}
    names = {
        at: _names(cells.to_series(at))
        for at, column in enumerate(definitions[:-1])
        if column is not None and column.kind == "text" and column.name not in FREE_TEXT
    }
    behind_names = range(max(names, default=-1) + 1, len(columns) - 1)
    found = {}
    for record in wide:
        typed = [cell.strip() for cell in record.cells]
        in_place = all(_is_in_place(typed[at], one, names.get(at)) for at, one in enumerate(definitions[:-1]))
        # Behind the last name nothing shows whether 12,5 was 12.5 and moved the cells after it.
        moved = any(_WHOLE.fullmatch(typed[at]) and _WHOLE.fullmatch(typed[at + 1]) for at in behind_names)
        begins = typed[len(columns) - 1]
        if in_place and not moved and begins and not _BEGINS_WITH_A_NUMBER.match(begins):
            found[record.start] = delimiter.join(record.cells[len(columns) - 1 :])
    return found


def _names(cells: pl.Series) -> frozenset[str]:
    """Names that several rows have in a column."""
    counts = cells.drop_nulls().str.strip_chars().alias("name").value_counts()
    return frozenset(counts.filter(pl.col("count") > 1)["name"])


def _is_in_place(cell: str, column: Column | None, names: frozenset[str] | None) -> bool:
    """Whether a cell is surely one of its column; names : those of the column that several rows have."""
    if column is None:
        return False
    if not cell:
        return not column.required
    if names is not None:
        return cell in names
    pattern = _KINDS.get(column.kind, _NUMBER)
    return column.name in FREE_TEXT or pattern.fullmatch(cell) is not None
