"""The entry workbook put together and written."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from draincurve.reports.workbooks.entry.choices import Choices
from draincurve.reports.workbooks.entry.entry_sheets import add_entry_sheet
from draincurve.reports.workbooks.entry.help_sheets import add_read_me_sheet, add_scales_sheet
from draincurve.reports.workbooks.entry.lists_sheet import add_lists_sheet
from draincurve.reports.workbooks.entry.styles import styles
from draincurve.reports.workbooks.xlsx_text import new_workbook
from draincurve.schemas.columns import TABLES


def write_entry_workbook(path: Path, choices: Choices, as_of: date) -> None:
    """An empty workbook for the bench: a sheet for each table, the scales, the lists, and how to fill it in.

    The same choices and day give the same bytes. Raises OSError where the file cannot be written; what lay there
    before is whole until the new file takes its place.
    """
    with new_workbook(path, as_of, "Entry workbook for the bench") as book:
        look = styles(book)
        for table in TABLES:
            add_entry_sheet(book, table, choices, look)
        add_scales_sheet(book, look)
        add_lists_sheet(book, choices, look)
        add_read_me_sheet(book, look)
