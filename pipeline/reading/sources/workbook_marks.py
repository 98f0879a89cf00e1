"""The marks on the cells of a table in a workbook: which of them are on cells that are used, and on whole rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import polars as pl

from draincurve.pipeline.reading.sources.bounds import MOST_MARKED_CELLS
from draincurve.pipeline.reading.sources.cell_marks import COMMENT, MERGED, STRUCK, STRUCK_ROW
from draincurve.pipeline.reading.sources.header_row import HeaderRow
from draincurve.pipeline.reading.sources.source_table import LINE, unique_names
from draincurve.pipeline.reading.sources.workbook_archive import SheetInFile
from draincurve.schemas.errors import SourceError

MARKS_SCHEMA = pl.Schema({LINE: pl.Int64, "name": pl.String, "mark": pl.String, "text": pl.String})
_LONGEST_SHOWN = 150

Mark = tuple[str, str]
"""A kind of mark, and the text of a comment or the position of the first column of a merged cell."""
Location = tuple[int, int]
"""Line of a cell and position of its column."""


class TableMarks(NamedTuple):
    """Marks of a table as in SourceTable, and notes on comments that are on no used cell of a row."""

    marks: pl.DataFrame | None
    notes: tuple[str, ...]


def marks_by_position(in_file: SheetInFile, cells: pl.DataFrame) -> dict[Location, tuple[Mark, ...]]:
    """What people left on the cells of a sheet. cells : those of all rows, from the first.

    Raises SourceError for marks past the bound.
    """
    markup = in_file.markup
    if markup is None:
        return {}
    first = markup.first_column
    marks: dict[Location, tuple[Mark, ...]] = {
        (row, column - first): ((mark, ""),) for (row, column), mark in markup.struck.items()
    }
    for (row, column), comment in in_file.comments.items():
        marks[row, column - first] = (*marks.get((row, column - first), ()), (COMMENT, comment))
    across = [item for item in markup.merged if item.last_column > item.column >= first]
    for item in across:
        start, last_row = item.column - first, min(item.last_row, cells.height)
        covered = range(start + 1, min(item.last_column - first + 1, cells.width))
        if len(marks) + len(covered) * (last_row - item.first_row + 1) > MOST_MARKED_CELLS:
            raise SourceError(
                f"sheet {in_file.name}: more than {MOST_MARKED_CELLS:,} cells are merged across columns: unmerge them"
            )
        if start < cells.width and (cells.item(item.first_row - 1, start) or "").strip():
            for row in range(item.first_row, last_row + 1):
                for position in covered:
                    marks[row, position] = (*marks.get((row, position), ()), (MERGED, str(start)))
    return marks


def table_marks(
    marks: Mapping[Location, Sequence[Mark]],
    body: pl.DataFrame,
    header: HeaderRow,
    *,
    headers: Sequence[str],
    header_line: int,
) -> TableMarks:
    """The marks on used cells of the rows of a table. body : `_line` and the cells of its rows."""
    if not marks:
        return TableMarks(None, ())
    names = unique_names(headers)
    used = [position for position, column in enumerate(header.columns) if column is not None]
    by_line: dict[int, dict[int, Sequence[Mark]]] = {}
    for (line, position), of_cell in marks.items():
        by_line.setdefault(line, {})[position] = of_cell
    rows: list[tuple[int, str, str, str]] = []
    lines = body.get_column(LINE)
    marked = body.filter(lines.is_in(list(by_line)))
    for line, *cells in marked.iter_rows():
        here = by_line[line]
        filled = [position for position in used if (cells[position] or "").strip()]
        struck = [position for position in filled if (STRUCK, "") in here.get(position, ())]
        whole = len(filled) > 1 and len(struck) == len(filled)
        if whole:
            rows.append((line, names[filled[0]], STRUCK_ROW, ""))
        for position in used:
            for mark, text in here.get(position, ()):
                if mark == MERGED:
                    rows.append((line, names[position], mark, names[int(text)]))
                elif not (whole and mark == STRUCK):
                    rows.append((line, names[position], mark, text))
    frame = pl.DataFrame(rows, schema=MARKS_SCHEMA, orient="row") if rows else None
    seen = {(line, position) for line in marked.get_column(LINE) for position in used}
    return TableMarks(frame, tuple(_notes(marks, seen, names, header_line=header_line)))


def _notes(
    marks: Mapping[Location, Sequence[Mark]], seen: set[Location], names: Sequence[str], *, header_line: int
) -> list[str]:
    """Notes on comments that are on a header, and how many are beside the table."""
    notes, others = [], 0
    for (line, position), of_cell in marks.items():
        comments = [text for mark, text in of_cell if mark == COMMENT]
        if not comments or (line, position) in seen:
            continue
        if line == header_line and 0 <= position < len(names):
            notes.append(f"comment on the header '{names[position]}': {comments[0][:_LONGEST_SHOWN]}")
        else:
            others += 1
    if others:
        notes.append(f"{others:,} {'comment' if others == 1 else 'comments'} beside the log's columns not read")
    return notes
