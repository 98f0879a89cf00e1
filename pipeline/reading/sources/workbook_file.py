"""Sheets of a workbook as text, with the sheet's own row numbers."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import fastexcel
import polars as pl

from draincurve.pipeline.reading.sources.header_row import (
    SEARCHED_ROWS,
    HeaderRow,
    header_row,
    stray_fault,
    title_notes,
)
from draincurve.pipeline.reading.sources.reading_options import ReadingOptions
from draincurve.pipeline.reading.sources.several_files import joined
from draincurve.pipeline.reading.sources.source_table import (
    FAULT,
    LINE,
    SourceTable,
    digest,
    file_bytes,
    with_headers,
)
from draincurve.schemas.columns import TABLES
from draincurve.schemas.errors import SourceError


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A sheet with content.

    rows : `_line` and one String column for each column of the sheet, without the rows that hold nothing
    """

    name: str
    rows: pl.DataFrame

    def header(self, table: str, options: ReadingOptions) -> HeaderRow:
        """The sheet's header, if it is that table."""
        return header_row(self.first_rows(), table, options.columns_of)

    def first_rows(self) -> list[list[str]]:
        """Cells of the rows among which the header is."""
        cells = self.rows.drop(LINE).head(SEARCHED_ROWS)
        return [[cell or "" for cell in row] for row in cells.iter_rows()]


def read_workbook_log(path: Path, options: ReadingOptions) -> dict[str, SourceTable]:
    """Every table of a workbook; `drains` is always there, perhaps without a row.

    A sheet named like a table of the contract, in any case, is that table. Every other sheet whose header is a log's
    is read as drains, one after the other; where there is none, and none named drains, it is the sheet whose header
    names the most columns. Notes name the sheets that are not read. Raises SourceError as `read_workbook_table` does,
    and where two sheets are one table.
    """
    content = file_bytes(path)
    sheets = _sheets(path, content)
    named = _sheets_by_table(path, list(sheets))
    tables = {
        table: _as_table(path, content, sheet, table=table, options=options)
        for table, name in named.items()
        if (sheet := sheets[name]) is not None
    }
    others = [sheet for name, sheet in sheets.items() if sheet is not None and name not in named.values()]
    logs = _logs_among(others, options, needed="drains" not in named)
    drains = [tables.pop("drains")] if "drains" in tables else []
    drains += [_as_table(path, content, sheet, table="drains", options=options) for sheet in logs]
    if not drains:
        raise SourceError(f"{path}: no rows of drains in the workbook; name their sheet 'drains'")
    left = [sheet.name for sheet in others if sheet not in logs]
    notes = (_not_read(left),) if left else ()
    return {"drains": _one_table(path, drains, notes=notes), **tables}


def read_workbook_table(path: Path, table: str, options: ReadingOptions) -> SourceTable:
    """One table of a workbook: the sheet of that name in any case, else the first one with content.

    Each cell is the text of its value: dates read "2026-03-04 00:00:00", numbers are their shortest text. Rows
    without content are skipped and do not count as rows. Raises SourceError for a file that is no workbook, and for
    a sheet that cannot be read or is empty.
    """
    content = file_bytes(path)
    sheets = _sheets(path, content)
    named = [sheet for name, sheet in sheets.items() if name.strip().casefold() == table]
    sheet = (named or list(sheets.values()) or [None])[0]
    if sheet is None:
        raise SourceError(f"{path}: the sheet is empty; expected a header row and rows below it")
    return _as_table(path, content, sheet, table=table, options=options)


def _logs_among(sheets: list[_Sheet], options: ReadingOptions, *, needed: bool) -> list[_Sheet]:
    """The sheets whose header is a log's; where none is, but one is needed, the one that names the most columns."""
    headers = [sheet.header("drains", options) for sheet in sheets]
    logs = [sheet for sheet, header in zip(sheets, headers, strict=True) if header.is_of_a_log]
    if logs or not needed or not sheets:
        return logs
    counts = [len(set(header.columns) - {None}) for header in headers]
    return [sheets[counts.index(max(counts))]]


def _as_table(path: Path, content: bytes, sheet: _Sheet, *, table: str, options: ReadingOptions) -> SourceTable:
    """A sheet as a table: its header, and the rows below."""
    rows, header = sheet.rows, sheet.header(table, options)
    first, lines = sheet.first_rows(), rows.get_column(LINE)
    not_rows = [lines[position] for position in (*header.titles, header.position)]
    body = rows.filter(~pl.col(LINE).is_in(not_rows))
    own = [body.get_column(LINE).cast(pl.Int64)]
    if header.strays:
        above = pl.col(LINE) < lines[header.position]
        fault = pl.when(above).then(pl.lit(stray_fault(lines[header.position])))
        own.append(body.select(fault.alias(FAULT)).to_series())
    notes = title_notes([(lines[position], first[position]) for position in header.titles])
    frame, kept = with_headers(body.drop(LINE), first[header.position], own=pl.DataFrame(own))
    return SourceTable(table, f"{path.name}[{sheet.name}]", digest(content), frame, notes, kept)


def _one_table(path: Path, sheets: list[SourceTable], *, notes: tuple[str, ...]) -> SourceTable:
    """The sheets of one table; those without rows are left out where others have some."""
    parts = [sheet for sheet in sheets if sheet.frame.height] or sheets[:1]
    if len(parts) == 1:
        return replace(parts[0], notes=(*notes, *parts[0].notes))
    return joined(path.name, parts, sha256=parts[0].sha256, notes=notes)


def _not_read(names: list[str]) -> str:
    listed = ", ".join(f"'{name}'" for name in names)
    return (
        f"sheet {listed}: not read, its header is no log's"
        if len(names) == 1
        else (f"sheets {listed}: not read, their headers are no log's")
    )


def _sheets_by_table(path: Path, names: list[str]) -> dict[str, str]:
    """Names of the sheets that are named like a table of the contract."""
    sheets: dict[str, str] = {}
    for name in names:
        table = name.strip().casefold()
        if table in TABLES:
            if table in sheets:
                raise SourceError(f"{path}: sheets {sheets[table]} and {name} are both {table}; rename one")
            sheets[table] = name
    if len(sheets) == len(names) and "drains" not in sheets:
        raise SourceError(f"{path}: no sheet of drains; name the sheet with the oil changes 'drains'")
    return sheets


def _sheets(path: Path, content: bytes) -> dict[str, _Sheet | None]:
    """Sheets by name, in order; None for one without content."""
    book = _opened(path, content)
    return {str(name): _sheet(path, book, str(name)) for name in book.sheet_names}


def _sheet(path: Path, book: Any, name: str) -> _Sheet | None:
    try:
        # skip_rows=0 and no header keep empty rows, without which line numbers would shift
        loaded = book.load_sheet(name, header_row=None, skip_rows=0, dtypes="string")
        rows: pl.DataFrame = loaded.to_polars()
    except Exception as fault:
        raise SourceError(
            f"{path}: sheet {name}: cannot be read ({_one_line(fault)}); save the workbook again"
        ) from fault
    cells = rows.columns
    if not cells:
        return None
    rows = rows.select(pl.all().cast(pl.String)).with_row_index(LINE, offset=1)
    rows = rows.filter(pl.any_horizontal(pl.col(cells).str.strip_chars().fill_null("") != ""))
    return _Sheet(name, rows) if rows.height else None


def _opened(path: Path, content: bytes) -> Any:
    try:
        return fastexcel.read_excel(content)
    except Exception as fault:
        raise SourceError(
            f"{path}: not a workbook that can be opened ({_one_line(fault)}); save it again as XLSX"
        ) from fault


def _one_line(fault: Exception) -> str:
    return " ".join(str(fault).split())[:200]
