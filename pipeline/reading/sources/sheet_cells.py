"""Cells of a workbook's sheets as text, with what is not in them: hidden rows, marks, and why a value is missing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import fastexcel
import polars as pl

from draincurve.pipeline.reading.sources.confined_reader import confined_sheets
from draincurve.pipeline.reading.sources.header_row import SEARCHED_ROWS, HeaderRow, header_row
from draincurve.pipeline.reading.sources.number_formats import USUAL
from draincurve.pipeline.reading.sources.reading_options import ReadingOptions
from draincurve.pipeline.reading.sources.sheet_markup import SheetMarkup, column_letters
from draincurve.pipeline.reading.sources.source_table import LINE
from draincurve.pipeline.reading.sources.workbook_archive import (
    SheetInFile,
    is_archive,
    refuse_large_archive,
    sheets_in_file,
)
from draincurve.pipeline.reading.sources.workbook_marks import Mark, marks_by_position
from draincurve.schemas.errors import SourceError

_MOST_LETTERS = 8
_NUMBER = r"^-?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?$"
_UNSEEN = "hidden rows, merged cells, comments and struck-through text"

_PANIC = "PanicException"
"""Name of the exception that the reader raises where it cannot go on."""


@dataclass(frozen=True, slots=True)
class SheetCells:
    """A sheet with content.

    rows : `_line` and one String column for each column of the sheet, without the rows that hold nothing
    unseen : the same of its hidden rows, which are not read
    faults : why a cell has no value, by its line and the position of its column. notes : rows that are not read
    marks : kind and text of what people left on cells, by line and position
    """

    name: str
    rows: pl.DataFrame
    faults: Mapping[tuple[int, int], str]
    notes: tuple[str, ...] = ()
    marks: Mapping[tuple[int, int], tuple[Mark, ...]] = field(default_factory=dict)
    unseen: pl.DataFrame | None = None

    def header(self, table: str, options: ReadingOptions) -> HeaderRow:
        """The sheet's header, if it is that table."""
        return header_row(self.first_rows(), table, options.columns_of)

    def first_rows(self) -> list[list[str]]:
        """Cells of the rows among which the header is."""
        cells = self.rows.drop(LINE).head(SEARCHED_ROWS)
        return [[cell or "" for cell in row] for row in cells.iter_rows()]


def sheets_with_cells(
    path: Path, content: bytes, options: ReadingOptions
) -> tuple[dict[str, SheetCells | None], list[str]]:
    """Sheets by name, in order, None for one without content; and names of hidden sheets that are not read."""
    if is_archive(content):
        in_file = sheets_in_file(content, path)
        wanted = [name for name, sheet in in_file.items() if options.hidden or not sheet.hidden]
        hidden = [name for name in in_file if name not in wanted]
        book = _opened(path, content)
        sheets = {
            name: _sheet(name, _cells(path, book, name), in_file=in_file[name], hidden=options.hidden)
            for name in wanted
            if in_file[name].markup is not None
        }
        return sheets, hidden
    refuse_large_archive(content, path)
    confined = confined_sheets(content, path)
    hidden = [sheet.name for sheet in confined if sheet.hidden and not options.hidden]
    return {
        sheet.name: _sheet(sheet.name, sheet.cells, in_file=None, hidden=options.hidden)
        for sheet in confined
        if sheet.name not in hidden
    }, hidden


def _cells(path: Path, book: Any, name: str) -> pl.DataFrame:
    try:
        # skip_rows=0 and no header keep empty rows, without which line numbers would shift
        cells: pl.DataFrame = book.load_sheet(name, header_row=None, skip_rows=0, dtypes="string").to_polars()
    except BaseException as fault:
        _raise_unless_reader_failed(fault)
        raise SourceError(
            f"{path}: sheet {name}: cannot be read ({_one_line(fault)}); save the workbook again"
        ) from fault
    return cells.select(pl.all().cast(pl.String))


def _sheet(name: str, cells: pl.DataFrame | None, *, in_file: SheetInFile | None, hidden: bool) -> SheetCells | None:
    """One sheet, each merged cell for all rows that it covers; hidden : whether hidden rows are read."""
    if cells is None or not cells.columns:
        return None
    markup = in_file.markup if in_file else None
    first = markup.first_column if markup else 1
    faults = {(row, column - first): why for (row, column), why in markup.faults.items()} if markup else {}
    filled = cells.select(pl.any_horizontal(pl.all().str.strip_chars().fill_null("") != "")).to_series()
    filled = filled | pl.int_range(1, cells.height + 1, eager=True).is_in([row for row, _ in faults])
    unit_notes: tuple[str, ...] = ()
    if markup:
        cells, unit_notes = _with_units_shown(name, cells, markup)
        cells, faults = _with_merged_cells(cells, faults, markup)
    rows = cells.with_row_index(LINE, offset=1).filter(filled)
    notes: tuple[str, ...] = ()
    hidden_rows = None
    if markup and not hidden:
        unseen = rows.get_column(LINE).is_in(list(markup.hidden_rows))
        if unseen.any():
            notes = (_hidden_rows_note(name, rows.get_column(LINE).filter(unseen)),)
            hidden_rows, rows = rows.filter(unseen), rows.filter(~unseen)
        notes += _hidden_columns_notes(name, rows.drop(LINE), markup)
    notes += unit_notes
    if markup is None and rows.height:
        notes = (f"sheet '{name}': {_UNSEEN} are seen only in XLSX",)
    marks = marks_by_position(in_file, cells) if in_file else {}
    return SheetCells(name, rows, faults, notes, marks, hidden_rows) if rows.height else None


def _hidden_rows_note(name: str, lines: pl.Series) -> str:
    first, last = lines[0], lines[-1]
    if len(lines) == 1:
        count = f"1 hidden row (line {first})"
    elif last - first == len(lines) - 1:
        count = f"{len(lines):,} hidden rows (lines {first} to {last})"
    else:
        count = f"{len(lines):,} hidden rows (between lines {first} and {last})"
    return f"sheet '{name}': {count} not read; --hidden reads what is hidden"


def _hidden_columns_notes(name: str, cells: pl.DataFrame, markup: SheetMarkup) -> tuple[str, ...]:
    """A note on hidden columns with content. They are read: without its hours, say, a row would be another one."""
    hidden_columns = [
        column_letters(number)
        for number, column in enumerate(cells, start=markup.first_column)
        if any(start <= number <= end for start, end in markup.hidden_columns)
        and (column.str.strip_chars().fill_null("") != "").any()
    ]
    if not hidden_columns:
        return ()
    more = len(hidden_columns) - _MOST_LETTERS
    listed = ", ".join(hidden_columns[:_MOST_LETTERS]) + (f" and {more} more" if more > 0 else "")
    columns = f"hidden column {listed} is" if len(hidden_columns) == 1 else f"hidden columns {listed} are"
    return (f"sheet '{name}': {columns} read too",)


def _with_units_shown(name: str, cells: pl.DataFrame, markup: SheetMarkup) -> tuple[pl.DataFrame, tuple[str, ...]]:
    """The cells with the unit that their format shows behind a number; a note for each column with an unusual one."""
    notes: list[str] = []
    for (number, unit), lines in sorted(markup.units.items()):
        position = number - markup.first_column
        if not 0 <= position < cells.width:
            continue
        column = cells.to_series(position)
        here = pl.int_range(1, cells.height + 1, eager=True).is_in(lines) & column.str.contains(_NUMBER)
        if here.any():
            cells = cells.with_columns(pl.when(here).then(column + f" {unit}").otherwise(column).alias(column.name))
        if here.any() and unit not in USUAL:
            shown = f"numbers in column {column_letters(number)} ({here.sum():,}) are"
            notes.append(f"sheet '{name}': {shown} shown with '{unit}' by a format, and read so")
    return cells, tuple(notes)


def _with_merged_cells(
    cells: pl.DataFrame, faults: Mapping[tuple[int, int], str], markup: SheetMarkup
) -> tuple[pl.DataFrame, dict[tuple[int, int], str]]:
    """The value of a merged cell, or its lack of one, in each row that it covers."""
    merged = [(item, item.column - markup.first_column) for item in markup.merged]
    positions = {position for _, position in merged if 0 <= position < cells.width}
    columns = {position: cells.to_series(position).to_list() for position in positions}
    merged_faults = dict(faults)
    for item, position in merged:
        values = columns.get(position, [])
        for row in range(item.first_row + 1, min(item.last_row, len(values)) + 1):
            values[row - 1] = values[item.first_row - 1]
            if (item.first_row, position) in faults:
                merged_faults[row, position] = faults[item.first_row, position]
    filled = [pl.Series(cells.columns[position], values, dtype=pl.String) for position, values in columns.items()]
    return cells.with_columns(filled), merged_faults


def _opened(path: Path, content: bytes) -> Any:
    try:
        return fastexcel.read_excel(content)
    except BaseException as fault:
        _raise_unless_reader_failed(fault)
        raise SourceError(
            f"{path}: not a workbook that can be opened ({_one_line(fault)}); save it again as XLSX"
        ) from fault


def _raise_unless_reader_failed(fault: BaseException) -> None:
    """Raise what stops the program. An error of a reader, or its panic, which is no Exception, is not raised."""
    if isinstance(fault, MemoryError) or not (isinstance(fault, Exception) or type(fault).__name__ == _PANIC):
        raise fault


def _one_line(fault: BaseException) -> str:
    return " ".join(str(fault).split())[:200]
