"""One sheet for each table: headings with units, 1,000 empty rows, and the rule of each cell."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from xlsxwriter.utility import xl_col_to_name

from draincurve.reports.workbooks.entry.entry_choices import Choices
from draincurve.reports.workbooks.entry.entry_columns import EntryColumn, entry_columns
from draincurve.reports.workbooks.entry.entry_rules import rule_of
from draincurve.reports.workbooks.entry.entry_styles import Styles

ENTRY_ROWS = 1_000
"""Rows prepared for entry; a shop that fills them starts a new workbook or copies the last row down."""
_NARROW, _MIDDLE, _WIDE = 11, 15, 28
_WIDE_COLUMNS = ("note", "new_parts", "event")
_TOP_UP = "top-up"


def add_entry_sheet(book: Any, table: str, *, choices: Choices, styles: Styles) -> Any:
    """The sheet of one table, empty below its headings."""
    sheet = book.add_worksheet(table)
    columns = entry_columns(table)
    for index, column in enumerate(columns):
        needed = column.required or bool(column.alternatives)
        sheet.set_column(index, index, _width(column), styles.cells[column.cell])
        sheet.write_string(0, index, column.heading, styles.needed_heading if needed else styles.heading)
        sheet.write_comment(0, index, column.explanation, {"x_scale": 2, "y_scale": 1.2, "author": "draincurve"})
        sheet.data_validation(1, index, ENTRY_ROWS, index, rule_of(column, choices.of(column.name)))
        for row in range(1, ENTRY_ROWS + 1):
            sheet.write_blank(row, index, None, styles.cells[column.cell])
    _hatch_missing_cells(sheet, columns, styles=styles)
    last = xl_col_to_name(len(columns) - 1)
    sheet.ignore_errors({"number_stored_as_text": f"A2:{last}{ENTRY_ROWS + 1}"})
    sheet.freeze_panes(1, 1)
    sheet.set_row(0, 32)
    sheet.set_landscape()
    sheet.set_paper(9)
    sheet.repeat_rows(0)
    sheet.fit_to_pages(1, 0)
    return sheet


def _hatch_missing_cells(sheet: Any, columns: Sequence[EntryColumn], *, styles: Styles) -> None:
    """Hatches a cell that must be filled in once its row has any content; a top-up needs no hours or rating."""
    letters = {column.name: xl_col_to_name(index) for index, column in enumerate(columns)}
    begun = f"COUNTA($A2:${xl_col_to_name(len(columns) - 1)}2)>0"
    for column in columns:
        is_blank = f"ISBLANK(${letters[column.name]}2)"
        if column.required:
            formula = f"=AND({begun},{is_blank})"
        elif column.alternatives:
            others = ",".join(f"ISBLANK(${letters[name]}2)" for name in column.alternatives)
            formula = f'=AND({begun},{is_blank},{others},${letters["service_kind"]}2<>"{_TOP_UP}")'
        else:
            continue
        cells = f"{letters[column.name]}2:{letters[column.name]}{ENTRY_ROWS + 1}"
        sheet.conditional_format(cells, {"type": "formula", "criteria": formula, "format": styles.missing})


def _width(column: EntryColumn) -> int:
    if column.name in _WIDE_COLUMNS:
        return _WIDE
    return _MIDDLE if column.cell != "number" else _NARROW
