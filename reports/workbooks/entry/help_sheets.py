"""The sheets to read: the rating scales and how to look; how to fill in the workbook, and what each column means."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from draincurve.reports.content.trade_words import CAUTIONS, HOW_TO_LOOK
from draincurve.reports.workbooks.entry.entry_columns import entry_columns
from draincurve.reports.workbooks.entry.entry_styles import Styles
from draincurve.reports.workbooks.xlsx_text import TextFormat, write_text
from draincurve.schemas.channels import CHANNELS, RATING_LOW, channel_names
from draincurve.schemas.columns import TABLES

SCALES_NAME, READ_ME_NAME = "scales", "read me"

_SCALES_WIDTHS = (8, *[46] * len(CHANNELS))
_READ_ME_WIDTHS = (16, 28, 20, 90)
_LINE_HEIGHT = 15.75

ADVISES = "The program advises; it never clears a unit to ride."
BENCH_CAUTIONS = (ADVISES, *CAUTIONS[1:])

HOW_TO_FILL = (
    "One row for each oil change on the sheet drains. The other sheets are optional; each makes the answer better.",
    "Columns with bold headings must be filled in; a hatched cell is still missing. Empty rows do not count.",
    "Leave a cell blank if nobody knows. A blank or 0 is never a clean rating, and unknown is never safe.",
    "Pick names from the drop-downs. A new one goes below the last one on the sheet lists, without a gap.",
    "Keep the headings and the names of the sheets: the program reads by them. Save as XLSX.",
    "A wear sign (milky, burnt, leak) means: inspect now, whatever the interval.",
)
TABLE_MEANING = {
    "drains": "one row for each oil change",
    "units": "the register: what each unit is and runs now, and the maker's limits",
    "usage": "hours ridden by unit and day",
    "bookings": "planned events and their hours",
    "oils": "what is known about the oils",
    "measurements": "measured values, one in each row",
    "parts": "parts: when fitted, the maker's longest life, limits of wear",
}


def add_scales_sheet(book: Any, styles: Styles) -> Any:
    """The scales in words, how to look, and the cautions."""
    sheet = book.add_worksheet(SCALES_NAME)
    _set_widths(sheet, _SCALES_WIDTHS)
    sheet.hide_gridlines(2)
    write_text(sheet, "Rating scales", row=0, column=0, style=styles.title)
    by_level = zip(*(channel.scale for channel in CHANNELS), strict=True)
    rows = [("level", *channel_names())]
    rows += [(str(level), *meanings) for level, meanings in enumerate(by_level, start=RATING_LOW)]
    below = _write_rows(sheet, rows, row=2, styles=styles) + 1
    for title, lines in (("How to look", HOW_TO_LOOK), ("Cautions", BENCH_CAUTIONS)):
        below = _write_lines(sheet, lines, row=below, title=title, widths=_SCALES_WIDTHS, styles=styles) + 1
    _to_print(sheet)
    return sheet


def add_read_me_sheet(book: Any, styles: Styles) -> Any:
    """How to fill in the workbook, what each sheet holds, and every column with its explanation and limits."""
    sheet = book.add_worksheet(READ_ME_NAME)
    _set_widths(sheet, _READ_ME_WIDTHS)
    sheet.hide_gridlines(2)
    write_text(sheet, "How to fill in this workbook", row=0, column=0, style=styles.title)
    below = _write_lines(sheet, HOW_TO_FILL, row=2, title="", widths=_READ_ME_WIDTHS, styles=styles)
    below = (
        _write_lines(sheet, BENCH_CAUTIONS, row=below + 1, title="Cautions", widths=_READ_ME_WIDTHS, styles=styles)
        + 1
    )
    rows = [("sheet", "column", "limits", "meaning")]
    for table in TABLES:
        rows.append((table, "", "", TABLE_MEANING.get(table, "")))
        rows += [
            (table, column.heading, _limits(column.low, column.high), column.explanation)
            for column in entry_columns(table)
        ]
    _write_rows(sheet, rows, row=below, styles=styles)
    _to_print(sheet)
    return sheet


def _limits(low: float | None, high: float | None) -> str:
    if low is None and high is None:
        return ""
    return f"from {low or 0:g}" if high is None else f"{low or 0:g} to {high:g}"


def _set_widths(sheet: Any, widths: tuple[int, ...]) -> None:
    for index, width in enumerate(widths):
        sheet.set_column(index, index, width)


def _write_lines(
    sheet: Any, lines: tuple[str, ...], *, row: int, title: str, widths: tuple[int, ...], styles: Styles
) -> int:
    """A title, if any, and each line over the width of the sheet; returns the row below."""
    if title:
        write_text(sheet, title, row=row, column=0, style=styles.strong)
        row += 1
    for line in lines:
        sheet.merge_range(row, 0, row, len(widths) - 1, "", styles.body.plain)
        write_text(sheet, line, row=row, column=0, style=styles.body)
        # no spreadsheet adjusts the height of merged cells by itself
        sheet.set_row(row, _LINE_HEIGHT * math.ceil(len(line) / sum(widths)))
        row += 1
    return row


def _write_rows(sheet: Any, rows: Sequence[tuple[str, ...]], *, row: int, styles: Styles) -> int:
    """Rows of text, the first in bold; returns the row below."""
    for number, cells in enumerate(rows):
        style: TextFormat = styles.strong if number == 0 else styles.body
        for column, cell in enumerate(cells):
            if cell:
                write_text(sheet, cell, row=row, column=column, style=style)
        row += 1
    return row


def _to_print(sheet: Any) -> None:
    sheet.set_landscape()
    sheet.set_paper(9)
    sheet.fit_to_pages(1, 0)
