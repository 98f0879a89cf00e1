"""One sheet for each table: headings with units, room for 1,000 rows, what each cell accepts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from xlsxwriter.utility import xl_col_to_name

from draincurve.reports.workbooks.entry.choices import Choices
from draincurve.reports.workbooks.entry.entry_columns import EntryColumn, entry_columns
from draincurve.reports.workbooks.entry.rules import rule_of
from draincurve.reports.workbooks.entry.styles import Styles

ROOM = 1_000
"""Rows that are laid out for entry; a shop that fills them starts a new workbook or copies the last row down."""
_NARROW, _MIDDLE, _WIDE = 11, 15, 28
_WIDE_COLUMNS = ("note", "new_parts", "event")
_TOP_UP = "top-up"


def add_entry_sheet(book: Any, table: str, choices: Choices, look: Styles) -> Any:
    """The sheet of one table, empty below its headings."""
    sheet = book.add_worksheet(table)
    columns = entry_columns(table)
    for place, column in enumerate(columns):
        needed = column.required or bool(column.beside)
        sheet.set_column(place, place, _width(column), look.cells[column.cell])
        sheet.write_string(0, place, column.heading, look.needed_heading if needed else look.heading)
        sheet.write_comment(0, place, column.explanation, {"x_scale": 2, "y_scale": 1.2, "author": "draincurve"})
        sheet.data_validation(1, place, ROOM, place, rule_of(column, choices.of(column.name)))
        for row in range(1, ROOM + 1):
            sheet.write_blank(row, place, None, look.cells[column.cell])
    _show_what_is_missing(sheet, columns, look)
    last = xl_col_to_name(len(columns) - 1)
    sheet.ignore_errors({"number_stored_as_text": f"A2:{last}{ROOM + 1}"})
    sheet.freeze_panes(1, 1)
    sheet.set_row(0, 32)
    sheet.set_landscape()
    sheet.set_paper(9)
    sheet.repeat_rows(0)
    sheet.fit_to_pages(1, 0)
    return sheet


def _show_what_is_missing(sheet: Any, columns: Sequence[EntryColumn], look: Styles) -> None:
    """Hatches a cell that must be filled as soon as anything stands in its row; a top-up needs no hours or rating."""
    letters = {column.name: xl_col_to_name(place) for place, column in enumerate(columns)}
    begun = f"COUNTA($A2:${xl_col_to_name(len(columns) - 1)}2)>0"
    for column in columns:
        own = f"ISBLANK(${letters[column.name]}2)"
        if column.required:
            formula = f"=AND({begun},{own})"
        elif column.beside:
            others = ",".join(f"ISBLANK(${letters[name]}2)" for name in column.beside)
            formula = f'=AND({begun},{own},{others},${letters["service_kind"]}2<>"{_TOP_UP}")'
        else:
            continue
        cells = f"{letters[column.name]}2:{letters[column.name]}{ROOM + 1}"
        sheet.conditional_format(cells, {"type": "formula", "criteria": formula, "format": look.missing})


def _width(column: EntryColumn) -> int:
    if column.name in _WIDE_COLUMNS:
        return _WIDE
    return _MIDDLE if column.cell != "number" else _NARROW
