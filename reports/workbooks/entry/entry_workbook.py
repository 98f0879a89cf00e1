"""The entry workbook: all its sheets, written to a file."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from xlsxwriter.utility import xl_col_to_name

from draincurve.reports.workbooks.entry.entry_choices import Choices
from draincurve.reports.workbooks.entry.entry_rules import range_name
from draincurve.reports.workbooks.entry.entry_sheets import add_entry_sheet
from draincurve.reports.workbooks.entry.entry_styles import Styles, entry_styles
from draincurve.reports.workbooks.entry.help_sheets import add_read_me_sheet, add_scales_sheet
from draincurve.reports.workbooks.xlsx_text import new_workbook, write_text
from draincurve.schemas.columns import TABLES

LISTS = "lists"
_FEWEST_ROWS, _MORE_ROWS = 1_000, 500
"""Rows of a list: at least the first number, and always the second number below the names of a log."""


def write_entry_workbook(path: Path, choices: Choices, *, as_of: date) -> None:
    """Writes an empty workbook for the bench: a sheet for each table, the scales, the lists, and how to fill it in.

    The same choices and day give the same bytes. Raises OSError where the file cannot be written; an earlier file is
    kept until the new one replaces it.
    """
    with new_workbook(path, as_of=as_of, title="Entry workbook for the bench") as book:
        styles = entry_styles(book)
        for table in TABLES:
            add_entry_sheet(book, table, choices=choices, styles=styles)
        add_scales_sheet(book, styles)
        _add_lists_sheet(book, choices, styles=styles)
        add_read_me_sheet(book, styles)


def _add_lists_sheet(book: Any, choices: Choices, *, styles: Styles) -> Any:
    """The lists behind the drop-downs, one column each, with a named range that ends at its last name.

    The shop extends a list by typing below its last name.
    """
    sheet = book.add_worksheet(LISTS)
    for column, choice in enumerate(choices.lists):
        sheet.set_column(column, column, 20, styles.cells["text"])
        write_text(sheet, choice.title, row=0, column=column, style=styles.strong)
        for row, name in enumerate(choice.names, start=1):
            write_text(sheet, name, row=row, column=column, style=styles.entry)
        letter, last = xl_col_to_name(column), 1 + max(_FEWEST_ROWS, len(choice.names) + _MORE_ROWS)
        cells = f"{LISTS}!${letter}$2:${letter}${last}"
        book.define_name(range_name(choice), f"={LISTS}!${letter}$2:INDEX({cells},MAX(1,COUNTA({cells})))")
    sheet.freeze_panes(1, 0)
    return sheet
