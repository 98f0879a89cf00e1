"""The sheet of lists behind the drop-downs, which the shop extends by typing below the last name."""

from __future__ import annotations

from typing import Any

from xlsxwriter.utility import xl_col_to_name

from draincurve.reports.workbooks.entry.entry_choices import Choices
from draincurve.reports.workbooks.entry.entry_rules import range_name
from draincurve.reports.workbooks.entry.entry_styles import Styles
from draincurve.reports.workbooks.xlsx_text import write_text

NAME = "lists"
_FEWEST_ROWS, _MORE_ROWS = 1_000, 500
"""Rows of a list: at least the first number, and always the second number below the names of a log."""


def add_lists_sheet(book: Any, choices: Choices, *, styles: Styles) -> Any:
    """One column for each list, with a named range that ends at its last name."""
    sheet = book.add_worksheet(NAME)
    for column, choice in enumerate(choices.lists):
        sheet.set_column(column, column, 20, styles.cells["text"])
        write_text(sheet, choice.title, row=0, column=column, style=styles.strong)
        for row, name in enumerate(choice.names, start=1):
            write_text(sheet, name, row=row, column=column, style=styles.entry)
        letter, last = xl_col_to_name(column), 1 + max(_FEWEST_ROWS, len(choice.names) + _MORE_ROWS)
        cells = f"{NAME}!${letter}$2:${letter}${last}"
        book.define_name(range_name(choice), f"={NAME}!${letter}$2:INDEX({cells},MAX(1,COUNTA({cells})))")
    sheet.freeze_panes(1, 0)
    return sheet
