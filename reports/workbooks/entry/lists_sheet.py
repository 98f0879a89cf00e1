"""The sheet of lists behind the drop-downs, which the shop extends by typing below the last name."""

from __future__ import annotations

from typing import Any

from xlsxwriter.utility import xl_col_to_name

from draincurve.reports.workbooks.entry.choices import Choices
from draincurve.reports.workbooks.entry.rules import range_name
from draincurve.reports.workbooks.entry.styles import Styles
from draincurve.reports.workbooks.xlsx_text import write_text

NAME = "lists"
_FEWEST_ROWS, _MORE_ROWS = 1_000, 500
"""Room of a list: at least the first, and always the second below what a log brought."""


def add_lists_sheet(book: Any, choices: Choices, look: Styles) -> Any:
    """One column for each list, and for each a named range that ends with its last name."""
    sheet = book.add_worksheet(NAME)
    for place, choice in enumerate(choices.lists):
        sheet.set_column(place, place, 20, look.cells["text"])
        write_text(sheet, 0, place, choice.title, look.strong)
        for row, name in enumerate(choice.names, start=1):
            write_text(sheet, row, place, name, look.entry)
        letter, last = xl_col_to_name(place), 1 + max(_FEWEST_ROWS, len(choice.names) + _MORE_ROWS)
        room = f"{NAME}!${letter}$2:${letter}${last}"
        book.define_name(range_name(choice), f"={NAME}!${letter}$2:INDEX({room},MAX(1,COUNTA({room})))")
    sheet.freeze_panes(1, 0)
    return sheet
