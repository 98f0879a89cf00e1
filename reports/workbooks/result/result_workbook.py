"""tables.xlsx: the work list, a sheet that explains all others, and one for each table."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.sections.work_list import WorkList
from draincurve.reports.workbooks.result.meanings_sheet import write_meanings
from draincurve.reports.workbooks.result.result_columns import ResultColumn
from draincurve.reports.workbooks.result.result_sheets import ResultSheet, result_sheets, work_sheet
from draincurve.reports.workbooks.xlsx_text import TextFormat, fitted, new_workbook, text_format, write_text

NARROWEST, WIDEST = 9, 46
"""Widths of a column [characters]."""
_FILTER_BUTTON = 3
_ROWS_MEASURED = 2_000

HEADING = {"bold": True, "text_wrap": True, "valign": "top", "bottom": 1, "bg_color": "#E7E6E1"}
BODY = {"valign": "top"}


def write_result_workbook(
    result: PlanResult, path: Path, *, tables: Mapping[str, pl.DataFrame], work: WorkList
) -> None:
    """Writes the tables of one run as a workbook that opens on the work list; the same result gives the same bytes.

    tables : checked, as `write_tables` returns them. Values are those of the CSV files, as real dates, numbers and
    booleans with number formats. Raises OSError where the file cannot be written.
    """
    first, sheets = work_sheet(work), result_sheets(result, tables)
    with new_workbook(path, as_of=result.as_of, title="Result tables") as book:
        _write_sheet(book, first)
        write_meanings(book, result, sheets=(first, *sheets))
        for sheet in sheets:
            _write_sheet(book, sheet)


def _write_sheet(book: Any, sheet: ResultSheet) -> None:
    page = book.add_worksheet(sheet.name)
    heading, text = text_format(book, HEADING), text_format(book, BODY)
    for index, column in enumerate(sheet.columns):
        page.set_column(index, index, _width(sheet, column))
        write_text(page, column.name, row=0, column=index, style=heading)
        number = book.add_format({**BODY, "num_format": column.number_format or "General"})
        for row, value in enumerate(sheet.table[column.name], start=1):
            _write_cell(page, value, row=row, column=index, number=number, text=text)
    page.freeze_panes(1, sheet.naming_columns)
    page.autofilter(0, 0, sheet.table.height, len(sheet.columns) - 1)
    page.set_landscape()
    page.set_paper(9)
    page.repeat_rows(0)
    page.fit_to_pages(1, 0)


def _write_cell(page: Any, value: object, *, row: int, column: int, number: Any, text: TextFormat) -> None:
    """One value by its type; the cell of an unknown one stays empty."""
    if value is None:
        return
    if isinstance(value, str):
        write_text(page, value, row=row, column=column, style=text)
    elif isinstance(value, bool):
        page.write_boolean(row, column, value, number)
    elif isinstance(value, date):
        page.write_datetime(row, column, value, number)
    elif isinstance(value, (int, float)) and math.isfinite(value):
        page.write_number(row, column, value, number)
    else:
        write_text(page, str(value), row=row, column=column, style=text)


def _width(sheet: ResultSheet, column: ResultColumn) -> int:
    """Width that the heading and most cells need [characters]."""
    cells = sheet.table[column.name].head(_ROWS_MEASURED).drop_nulls()
    longest = max((len(fitted(value)) if isinstance(value, str) else 10 for value in cells), default=0)
    return max(NARROWEST, len(column.name) + _FILTER_BUTTON, min(longest + 1, WIDEST))
