"""The entry workbook: all its sheets, written to a file."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from draincurve.reports.workbooks.entry.entry_choices import Choices
from draincurve.reports.workbooks.entry.entry_sheets import add_entry_sheet
from draincurve.reports.workbooks.entry.entry_styles import entry_styles
from draincurve.reports.workbooks.entry.help_sheets import add_read_me_sheet, add_scales_sheet
from draincurve.reports.workbooks.entry.lists_sheet import add_lists_sheet
from draincurve.reports.workbooks.xlsx_text import new_workbook
from draincurve.schemas.columns import TABLES


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
        add_lists_sheet(book, choices, styles=styles)
        add_read_me_sheet(book, styles)
