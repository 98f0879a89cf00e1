"""The first sheet of tables.xlsx: what each sheet holds, what each column means and in which unit, and cautions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from draincurve.pipeline.report import Report
from draincurve.reports.content.trade_words import CAUTIONS, SET_BY_MEANING
from draincurve.reports.workbooks.result.result_sheets import ResultSheet
from draincurve.reports.workbooks.xlsx_text import TextFormat, text_format, write_text

NAME = "read me"
_WIDTHS = (20, 22, 26, 92)
Row = tuple[str, str, str, str]
_COLUMN_HEADINGS: Row = ("sheet", "column", "unit", "meaning")


def write_meanings(book: Any, result: Report, sheets: Sequence[ResultSheet]) -> None:
    """Adds the sheet to an open workbook."""
    page = book.add_worksheet(NAME)
    title = text_format(book, {"bold": True, "font_size": 14})
    heading = text_format(book, {"bold": True, "bottom": 1, "bg_color": "#E7E6E1"})
    plain = text_format(book, {"text_wrap": True, "valign": "top"})
    one_line = text_format(book, {})
    for place, width in enumerate(_WIDTHS):
        page.set_column(place, place, width)
    page.hide_gridlines(2)
    write_text(page, 0, 0, f"Result tables as of {result.as_of.isoformat()}", title)
    write_text(page, 1, 0, f"from {result.log.name}; an empty cell means that nothing tells", one_line)
    for row, caution in enumerate(CAUTIONS, start=3):
        write_text(page, row, 0, caution, one_line)
    below = 4 + len(CAUTIONS)
    for row, cells in enumerate(_contents(sheets), start=below):
        _write_row(page, row, cells, plain)
    below += len(sheets) + 1
    _write_row(page, below, _COLUMN_HEADINGS, heading)
    for row, cells in enumerate(_meanings(sheets), start=below + 1):
        _write_row(page, row, cells, plain)
    page.set_landscape()
    page.set_paper(9)
    page.fit_to_pages(1, 0)


def _write_row(page: Any, row: int, cells: Row, look: TextFormat) -> None:
    """One row of text; an empty text leaves its cell empty."""
    for place, cell in enumerate(cells):
        if cell:
            write_text(page, row, place, cell, look)


def _contents(sheets: Sequence[ResultSheet]) -> list[Row]:
    """Each sheet with its number of rows and what it holds."""
    found = []
    for sheet in sheets:
        more = f"; {sheet.left_out} more rows stand in {sheet.name}.csv, which has them all" if sheet.left_out else ""
        found.append((sheet.name, f"{sheet.table.height} rows", "", f"{sheet.holds}{more}"))
    return found


def _meanings(sheets: Sequence[ResultSheet]) -> list[Row]:
    """Each column with its unit and meaning; what the words of set_by stand for is said once, at its end."""
    found = [(sheet.name, column.name, column.unit, column.meaning) for sheet in sheets for column in sheet.columns]
    found += [("words of set_by", word, "", meaning) for word, meaning in SET_BY_MEANING.items()]
    return found
