"""One sheet of the log to mend: its rows as they were read, marks and reasons in columns of our own before them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import polars as pl
from xlsxwriter.utility import xl_col_to_name

from draincurve.pipeline.reading.cleaning import HOLDS_BYTES, GivenHeaders, matched_table
from draincurve.pipeline.reading.sources import (
    CLEAR_WHEN_MENDED,
    FAULT,
    LINE,
    NO_TEXT,
    SOURCE,
    SURPLUS,
    LineBeside,
    SourceTable,
    longest_text,
    own_header,
)
from draincurve.reports.workbooks.xlsx_text import LONGEST_TEXT, TextFormat, fitted, text_format, write_text
from draincurve.schemas.columns import TABLES
from draincurve.schemas.errors import HeaderError

HELD_BACK_FILL, ASKED_FILL = "#EFD2B3", "#B3D0D7"
"""Amber and petrol of the report, which stay apart for the common kinds of colour blindness."""
CONFIRMED = "confirmed"
"""The log's column in which a writer says that a row is right as typed."""
_CONFIRMS = "The row is right as its cells stand. A proposal is not taken over: type it into its cell instead."
_WHICH = "type it into the cell to accept it; yes under confirmed keeps the cell as it stands"
_OWN_HEADERS = tuple(map(own_header, ("mark", "reason", "proposal")))
_OWN_WIDTHS = dict(zip((*_OWN_HEADERS, CLEAR_WHEN_MENDED), (13, 44, 18, 30), strict=True))
_LAST_ROW = 1_048_575
_NARROWEST, _WIDEST, _ROWS_MEASURED = 8, 28, 1_000
_FURTHEST_HEADER = 30
"""A header further down is not found again, so the rows of such a log close up."""

Marks = dict[tuple[str, int], list[dict[str, Any]]]
"""Reasons and questions of each row, by its source and line: kind, column, message, proposal."""
NameMarks = dict[tuple[str, str], dict[str, Any]]
"""Questions about a name wherever it is in the log, by its column and the name, with the keys of a mark."""


@dataclass(frozen=True, slots=True)
class MarkStyles:
    """Formats of cells; all are text, so that no spreadsheet makes a date of a rating such as 2-3."""

    heading: TextFormat
    own: TextFormat
    plain: TextFormat
    marked: Mapping[str, TextFormat]


def mark_styles(book: Any) -> MarkStyles:
    """The formats of a workbook; a mark is a fill and a kind of type, and its words are in a column."""
    text = {"num_format": "@", "valign": "top"}
    return MarkStyles(
        heading=text_format(book, {**text, "bold": True, "bottom": 1, "bg_color": "#E7E6E1", "text_wrap": True}),
        own=text_format(book, {**text, "text_wrap": True, "font_color": "#1D2A30", "bg_color": "#F6F6F3"}),
        plain=text_format(book, text),
        marked={
            "held back": text_format(book, {**text, "bold": True, "bg_color": HELD_BACK_FILL, "border": 1}),
            "asked": text_format(book, {**text, "italic": True, "bg_color": ASKED_FILL, "border": 4}),
        },
    )


def write_sheet(
    page: Any,
    table: SourceTable,
    marks: Marks,
    *,
    names: NameMarks,
    styles: MarkStyles,
    given: GivenHeaders | None,
) -> None:
    """Writes the rows of a table, each on the row of the sheet that is its line, where that can be."""
    headers = [header.strip() for header in table.typed_headers]
    sources, surplus = _own_column(table, SOURCE), _own_column(table, SURPLUS)
    lines = table.frame.get_column(LINE).to_list()
    marks_by_row = [
        marks.get((source or table.source, line), []) for source, line in zip(sources, lines, strict=True)
    ]
    faults = [
        fault or cut for fault, cut in zip(_faults(table, marks_by_row), _cut_cells(table, headers), strict=True)
    ]
    own_headers = (*_OWN_HEADERS, CLEAR_WHEN_MENDED) if any(faults) else _OWN_HEADERS
    columns = _columns(table, given)
    if _can_be_confirmed(table, marks, columns=columns):
        own_headers = (*own_headers, CONFIRMED)
    confirmable = CONFIRMED in own_headers or CONFIRMED in columns.values()
    first = len(own_headers)
    cells_of = {
        column: [
            (position, headers[position])
            for position, name in enumerate(table.cell_columns)
            if columns.get(name) == column
        ]
        for column in columns.values()
    }
    columns_at = [columns.get(name) if names else None for name in table.cell_columns]
    rows, beside, header_row = _rows_of_sheet(lines, table.beside)
    _set_columns(page, table, own_headers=own_headers, styles=styles)
    for column, header in enumerate((*own_headers, *headers)):
        if header:
            write_text(page, header, row=header_row, column=column, style=styles.heading)
    _write_beside(page, beside, first=first, styles=styles)
    for index, cells in enumerate(table.frame.select(table.cell_columns).iter_rows()):
        asked = [names[key] for key in _keys_of_names(cells, columns_at) if key in names]
        row_marks = [*marks_by_row[index], *asked]
        marked = {
            position: mark["kind"] for mark in reversed(row_marks) for position, _ in cells_of.get(mark["column"], ())
        }
        mark, reason, proposal = _own_cells(row_marks, cells_of, first=first, confirmable=confirmable)
        past = f"cells past the header: {surplus[index]}" if surplus[index] else ""
        ours = (mark, reason, "\n".join(part for part in (proposal, past) if part), faults[index])
        for column, text in enumerate(ours):
            if text:
                write_text(page, text, row=rows[index], column=column, style=styles.own)
        for position, cell in enumerate(cells):
            style = styles.marked[marked[position]] if position in marked else styles.plain
            if cell is not None:
                write_text(page, cell, row=rows[index], column=first + position, style=style)
            elif position in marked:
                page.write_blank(rows[index], first + position, None, style.plain)
    page.freeze_panes(header_row + 1, len(_OWN_HEADERS))
    page.ignore_errors({"number_stored_as_text": f"A1:XFD{_LAST_ROW + 1}"})


def _write_beside(page: Any, beside: Sequence[tuple[int, LineBeside]], *, first: int, styles: MarkStyles) -> None:
    """Writes titles, and rows that are hidden in the log as hidden ones; first : the column of the log's first."""
    for row, line in beside:
        for column, text in line.cells:
            write_text(page, text, row=row, column=first + column, style=styles.plain)
        if line.hidden:
            page.set_row(row, None, None, {"hidden": True})


def _columns(table: SourceTable, given: GivenHeaders | None) -> Mapping[str, str]:
    """Column of each header that is used; none in a sheet whose header is not understood."""
    try:
        return matched_table(table, given).columns
    except HeaderError:
        return {}


def _keys_of_names(cells: Sequence[str | None], columns: Sequence[str | None]) -> Iterator[tuple[str, str]]:
    """Column and text of each cell under a known header."""
    for column, cell in zip(columns, cells, strict=True):
        if column is not None and cell is not None:
            yield column, cell.strip()


def _own_cells(
    row_marks: Sequence[Mapping[str, Any]],
    cells_of: Mapping[str, list[tuple[int, str]]],
    *,
    first: int,
    confirmable: bool,
) -> tuple[str, str, str]:
    """The mark of a row, its reasons and its proposals, each line once; a yes is said to be none to a proposal."""
    kinds = dict.fromkeys("held back" if mark["kind"] == "held back" else "asked about" for mark in row_marks)
    reasons: dict[str, dict[str, None]] = {}
    proposals: dict[str, None] = {}
    for mark in row_marks:
        names = [_heading(position, header, first=first) for position, header in cells_of.get(mark["column"], ())]
        if not names and mark["column"]:
            names = [mark["column"]]
        reasons.setdefault(mark["message"], {}).update(dict.fromkeys(names))
        if mark["proposal"]:
            proposals[": ".join(part for part in (", ".join(names), mark["proposal"]) if part)] = None
    if confirmable and any(mark["kind"] == "asked" and mark["line"] and mark["proposal"] for mark in row_marks):
        proposals[f"({_WHICH})"] = None
    lines = (": ".join(part for part in (", ".join(names), message) if part) for message, names in reasons.items())
    return ", ".join(kinds), "\n".join(lines), "\n".join(proposals)


def _own_column(table: SourceTable, name: str) -> list[Any]:
    """One of the reader's own columns, null throughout where the table has none."""
    frame = table.frame
    return frame.get_column(name).to_list() if name in frame.columns else [None] * frame.height


def _heading(position: int, header: str, *, first: int) -> str:
    """A column as a person finds it on the sheet."""
    return f"{header or 'no header'} (column {xl_col_to_name(first + position)})"


def _faults(table: SourceTable, marks_by_row: Sequence[Sequence[Mapping[str, Any]]]) -> list[str]:
    """For each row, the reason that its cells alone do not give again: it did not fit the header, or held bytes."""
    faults = []
    for fault, no_text, marks in zip(
        _own_column(table, FAULT), _own_column(table, NO_TEXT), marks_by_row, strict=True
    ):
        messages = [mark["message"] for mark in marks if mark["kind"] == "held back"]
        again = [text for text in messages if text == fault or (no_text is not None and text == HOLDS_BYTES)]
        faults.append(again[0] if again else "")
    return faults


def _cut_cells(table: SourceTable, headers: Sequence[str]) -> list[str]:
    """For each row, which of its cells is longer than a workbook's may be, and so was cut; else empty."""
    cut = [""] * table.frame.height
    for name, header in zip(table.cell_columns, headers, strict=True):
        cells = table.frame.get_column(name)
        if longest_text(cells) <= LONGEST_TEXT:
            continue
        for row, cell in enumerate(cells):
            if cell is not None and fitted(cell) != cell:
                cut[row] = f"the cell under '{header}' is longer than a workbook's may be and was cut: shorten it"
    return cut


def _rows_of_sheet(
    lines: Sequence[int], beside: Sequence[LineBeside]
) -> tuple[list[int], list[tuple[int, LineBeside]], int]:
    """The row of the sheet, from 0, of each row of the table, of each line beside them, and of the header.

    They are their lines, if these will do. Otherwise the rows close up: titles, header, then rows and hidden rows.
    """
    titles, hidden = ([beside_line for beside_line in beside if beside_line.hidden == kind] for kind in (False, True))
    rising = all(a < b for a, b in pairwise(lines))
    below = sorted([*lines, *(beside_line.line for beside_line in hidden)]) if rising else list(lines)
    header = below[0] - 2 if below else 0
    in_place = rising and bool(below) and 0 <= header < _FURTHEST_HEADER - 1 and len(set(below)) == len(below)
    if (
        in_place
        and below[-1] <= 2 * len(below) + _FURTHEST_HEADER
        and all(beside_line.line <= header for beside_line in titles)
    ):
        return [line - 1 for line in lines], [(beside_line.line - 1, beside_line) for beside_line in beside], header
    row_of_line = {line: number for number, line in enumerate(below, start=len(titles) + 1)}
    rows = (
        [row_of_line[line] for line in lines]
        if rising
        else [number + len(titles) + 1 for number in range(len(lines))]
    )
    after = [
        row_of_line.get(beside_line.line, len(titles) + 1 + len(lines) + number)
        for number, beside_line in enumerate(hidden)
    ]
    return rows, [*enumerate(titles), *zip(after, hidden, strict=True)], len(titles)


def _can_be_confirmed(table: SourceTable, marks: Marks, *, columns: Mapping[str, str]) -> bool:
    """Whether a row is asked about in a table that has no column yet in which to confirm it."""
    known = any(column.name == CONFIRMED for column in TABLES[table.table])
    asked = any(mark["kind"] == "asked" for row_marks in marks.values() for mark in row_marks)
    return known and asked and CONFIRMED not in columns.values()


def _set_columns(page: Any, table: SourceTable, *, own_headers: Sequence[str], styles: MarkStyles) -> None:
    """Columns as wide as their texts need, within bounds; what is typed into them stays text."""
    for column, header in enumerate(own_headers):
        page.set_column(column, column, _OWN_WIDTHS.get(header, _NARROWEST + 4), styles.plain.plain)
    if CONFIRMED in own_headers:
        column = own_headers.index(CONFIRMED)
        asks = {"input_title": "yes: keep as typed", "input_message": _CONFIRMS}
        page.data_validation(1, column, _LAST_ROW, column, {"validate": "list", "source": ["yes", "no"], **asks})
    for column, name in enumerate(table.cell_columns, start=len(own_headers)):
        longest = table.frame.get_column(name).head(_ROWS_MEASURED).cast(pl.String).str.len_chars().max()
        width = max(len(name), longest if isinstance(longest, int) else 0) + 2
        page.set_column(column, column, min(max(width, _NARROWEST), _WIDEST), styles.plain.plain)
