"""The sheet of tables.xlsx that explains the others: what each holds, its columns and their units, and cautions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.trade_words import CAUTIONS, SET_BY
from draincurve.reports.workbooks.result.result_sheets import ResultSheet
from draincurve.reports.workbooks.xlsx_text import TextFormat, text_format, write_text

NAME = "read me"
_WIDTHS = (20, 22, 26, 92)
Row = tuple[str, str, str, str]
_COLUMN_HEADINGS: Row = ("sheet", "column", "unit", "meaning")


def write_meanings(book: Any, result: PlanResult, *, sheets: Sequence[ResultSheet]) -> None:
    """Adds the sheet to an open workbook."""
    page = book.add_worksheet(NAME)
    title = text_format(book, {"bold": True, "font_size": 14})
    heading = text_format(book, {"bold": True, "bottom": 1, "bg_color": "#E7E6E1"})
    plain = text_format(book, {"text_wrap": True, "valign": "top"})
    one_line = text_format(book, {})
    for column, width in enumerate(_WIDTHS):
        page.set_column(column, column, width)
    page.hide_gridlines(2)
    write_text(page, f"Result tables as of {result.as_of.isoformat()}", row=0, column=0, style=title)
    write_text(page, f"from {result.log.name}; an empty cell means not known", row=1, column=0, style=one_line)
    for row, caution in enumerate(CAUTIONS, start=3):
        write_text(page, caution, row=row, column=0, style=one_line)
    below = 4 + len(CAUTIONS)
    for row, cells in enumerate(_contents(sheets), start=below):
        _write_row(page, cells, row=row, style=plain)
    below += len(sheets) + 1
    _write_row(page, _COLUMN_HEADINGS, row=below, style=heading)
    for row, cells in enumerate(_meanings(sheets), start=below + 1):
        _write_row(page, cells, row=row, style=plain)
    page.set_landscape()
    page.set_paper(9)
    page.fit_to_pages(1, 0)


def _write_row(page: Any, cells: Row, *, row: int, style: TextFormat) -> None:
    """One row of text; an empty text leaves its cell empty."""
    for column, cell in enumerate(cells):
        if cell:
            write_text(page, cell, row=row, column=column, style=style)


def _contents(sheets: Sequence[ResultSheet]) -> list[Row]:
    """Each sheet with its number of rows and what it holds."""
    rows = []
    for sheet in sheets:
        more = f"; {sheet.left_out} more rows are in {sheet.name}.csv, which has them all" if sheet.left_out else ""
        rows.append((sheet.name, f"{sheet.table.height} rows", "", f"{sheet.holds}{more}"))
    return rows


def _meanings(sheets: Sequence[ResultSheet]) -> list[Row]:
    """Each column with its unit and meaning; the values of set_by are explained once, at the end."""
    rows = [(sheet.name, column.name, column.unit, column.meaning) for sheet in sheets for column in sheet.columns]
    rows += [("values of set_by", name, "", value.meaning) for name, value in SET_BY.items()]
    return rows
