"""A workbook as tables: which of its sheets are logs or side tables, and which are left out and named."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import polars as pl

from draincurve.pipeline.reading.sources.header_row import (
    may_be_a_log,
    stray_fault,
    title_notes,
)
from draincurve.pipeline.reading.sources.reading_options import ReadingOptions
from draincurve.pipeline.reading.sources.several_files import joined
from draincurve.pipeline.reading.sources.sheet_cells import SheetCells, sheets_with_cells
from draincurve.pipeline.reading.sources.sheets_of_units import note, with_names_as_units
from draincurve.pipeline.reading.sources.source_table import (
    FAULT,
    HEADER_IN,
    LINE,
    OWN_SHEETS,
    SourceTable,
    digest,
    file_bytes,
    line_beside,
    with_headers,
)
from draincurve.pipeline.reading.sources.workbook_marks import table_marks
from draincurve.schemas.columns import TABLES
from draincurve.schemas.errors import SourceError

_HIDDEN = "hidden, so not read: {}; --hidden reads what is hidden"
_NO_LOG = "not read, since the header is no log's: {} ({} in all)"
_STORED_TIME = r"^(1899-12-3[01]|1900-\d\d-\d\d) \d\d:\d\d:\d\d(\.\d+)?$"


def read_workbook_log(path: Path, options: ReadingOptions) -> dict[str, SourceTable]:
    """Every table of a workbook; `drains` is always there, perhaps without a row.

    A sheet named like a table of the contract, in any case, is that table. Every other sheet whose header is a log's
    is read as drains, one after the other. So is one that may be a log; if its header is not understood later, its
    rows are held back. Where there is no log, and none named drains, it is the sheet whose header names the most
    columns. Where no sheet has a column for the unit but several lack nothing else, their names are the units. Notes
    name the sheets that are not read. Raises SourceError as `read_workbook_table` does, and where two sheets are one
    table.
    """
    content = file_bytes(path)
    sheets, hidden = sheets_with_cells(path, content, options)
    named = _sheets_by_table(path, list(sheets), hidden=hidden)
    tables = {
        table: _as_table(path, content, sheet, table=table, options=options)
        for table, name in named.items()
        if (sheet := sheets[name]) is not None
    }
    others = [sheet for name, sheet in sheets.items() if sheet is not None and name not in named.values()]
    of_units = with_names_as_units(others, options) if "drains" not in named else None
    logs = of_units or _logs_among(others, options, needed="drains" not in named)
    drains = [tables.pop("drains")] if "drains" in tables else []
    drains += [_as_table(path, content, sheet, table="drains", options=options) for sheet in logs]
    if not drains:
        raise SourceError(
            f"{path}: no rows of drains in the workbook; name their sheet 'drains'{_hidden_too(hidden)}"
        )
    read = {sheet.name for sheet in logs}
    left = [sheet for sheet in others if sheet.name not in read and sheet.name not in OWN_SHEETS]
    notes = (
        *([note(of_units)] if of_units else []),
        *([_NO_LOG.format(_sheets_text([sheet.name for sheet in left]), _rows_counted(left))] if left else []),
        *([_HIDDEN.format(_sheets_text(hidden))] if hidden else []),
    )
    return {"drains": _one_table(path, drains, notes=notes), **tables}


def read_workbook_table(path: Path, table: str, options: ReadingOptions) -> SourceTable:
    """One table of a workbook: the sheet of that name in any case, else the first one with content.

    Each cell is the text of its value: dates read "2026-03-04 00:00:00", numbers are their shortest text. Rows
    without content are skipped and do not count as rows. Raises SourceError for a file that is no workbook, and for
    a sheet that cannot be read or is empty.
    """
    content = file_bytes(path)
    sheets, _ = sheets_with_cells(path, content, options)
    named = [sheet for name, sheet in sheets.items() if name.strip().casefold() == table]
    sheet = (named or list(sheets.values()) or [None])[0]
    if sheet is None:
        raise SourceError(f"{path}: the sheet is empty; expected a header row and rows below it")
    return _as_table(path, content, sheet, table=table, options=options)


def _logs_among(sheets: list[SheetCells], options: ReadingOptions, *, needed: bool) -> list[SheetCells]:
    """The sheets that are logs or may be; where none is, but one is needed, the one that names the most columns."""
    headers = [sheet.header("drains", options) for sheet in sheets]
    pairs = list(zip(sheets, headers, strict=True))
    surely = any(header.is_of_a_log for _, header in pairs)
    if surely or not needed or not sheets:
        return [
            sheet
            for sheet, header in pairs
            if header.is_of_a_log or (sheet.name not in OWN_SHEETS and may_be_a_log(header, sheet.first_rows()))
        ]
    counts = [len(set(header.columns) - {None}) for header in headers]
    return [sheets[counts.index(max(counts))]]


def _as_table(path: Path, content: bytes, sheet: SheetCells, *, table: str, options: ReadingOptions) -> SourceTable:
    """A sheet as a table: its header, and the rows below."""
    rows, header = sheet.rows, sheet.header(table, options)
    first, lines = sheet.first_rows(), rows.get_column(LINE)
    not_rows = [lines[position] for position in (*header.titles, header.position)]
    body = rows.filter(~pl.col(LINE).is_in(not_rows))
    line_columns = body.select(pl.col(LINE).cast(pl.Int64))
    faults: dict[int, str] = {}
    for (line, position), fault in sheet.faults.items():
        if position < len(header.columns) and header.columns[position] is not None:
            faults.setdefault(line, fault)
    faults |= {lines[position]: stray_fault(lines[header.position]) for position in header.strays}
    if faults:
        why = pl.DataFrame(
            {LINE: list(faults), FAULT: list(faults.values())}, schema={LINE: pl.Int64, FAULT: pl.String}
        )
        line_columns = line_columns.join(why, on=LINE, how="left", maintain_order="left")
    notes = title_notes([(lines[position], first[position]) for position in header.titles])
    of_header = [fault for (line, _), fault in sheet.faults.items() if line == lines[header.position]]
    notes += tuple(f"{HEADER_IN}{fault}" for fault in dict.fromkeys(of_header))
    cells = [
        _as_typed(column) if column_name != "drained_on" else _as_day(column)
        for column, column_name in zip(body.drop(LINE).get_columns(), header.columns, strict=True)
    ]
    frame, kept = with_headers(pl.DataFrame(cells), first[header.position], line_columns=line_columns)
    table_of_marks = table_marks(
        sheet.marks, body, header, headers=first[header.position], header_line=lines[header.position]
    )
    notes = (*notes, *sheet.notes, *table_of_marks.notes)
    headers = first[header.position]
    beside = [line_beside(lines[position], first[position], headers) for position in header.titles]
    if sheet.unseen is not None:
        hidden = zip(sheet.unseen[LINE], sheet.unseen.drop(LINE).iter_rows(), strict=True)
        beside += [line_beside(line, row, headers, hidden=True) for line, row in hidden]
    source = f"{path.name}[{sheet.name}]"
    return SourceTable(
        table, source, digest(content), frame, notes, kept, marks=table_of_marks.marks, beside=tuple(beside)
    )


def _as_day(column: pl.Series) -> pl.Series:
    """A day as 2026-03-04, which a workbook stores with midnight."""
    return column.str.replace(r"^(\d{4}-\d\d-\d\d) 00:00:00$", "$1")


def _as_typed(column: pl.Series) -> pl.Series:
    """A time or duration as 12:30, which a workbook stores as a day near 1900; a day as 2026-03-04."""
    name = column.name
    stored = column.is_not_null() & column.str.contains(_STORED_TIME)
    if not stored.any():
        return _as_day(column)
    times = pl.Series(name, [_clock(text) if is_time else text for text, is_time in zip(column, stored, strict=True)])
    return _as_day(times.cast(pl.String))


def _clock(stored: str) -> str:
    """Hours, minutes and, where they are not 0, seconds since the day that a workbook calls 0."""
    moment = datetime.fromisoformat(stored)
    start = datetime(1899, 12, 30) if moment >= datetime(1900, 3, 1) or moment.day == 30 else datetime(1899, 12, 31)
    seconds = round((moment - start).total_seconds())
    minutes, rest = divmod(seconds, 60)
    return f"{minutes // 60}:{minutes % 60:02}" + (f":{rest:02}" if rest else "")


def _one_table(path: Path, sheets: list[SourceTable], *, notes: tuple[str, ...]) -> SourceTable:
    """The sheets of one table; those without rows are left out where others have some."""
    parts = [sheet for sheet in sheets if sheet.frame.height] or sheets[:1]
    if len(parts) == 1:
        return replace(parts[0], notes=(*notes, *parts[0].notes))
    return joined(path.name, parts, sha256=parts[0].sha256, notes=notes)


def _rows_counted(sheets: list[SheetCells]) -> str:
    count = sum(sheet.rows.height for sheet in sheets)
    return f"{count:,} {'row' if count == 1 else 'rows'}"


def _hidden_too(names: list[str]) -> str:
    return f"; {_HIDDEN.format(_sheets_text(names))}" if names else ""


def _sheets_text(names: list[str]) -> str:
    return f"{'sheet' if len(names) == 1 else 'sheets'} " + ", ".join(f"'{name}'" for name in names)


def _sheets_by_table(path: Path, names: list[str], *, hidden: list[str]) -> dict[str, str]:
    """Names of the sheets that are named like a table of the contract."""
    sheets: dict[str, str] = {}
    for name in names:
        table = name.strip().casefold()
        if table in TABLES:
            if table in sheets:
                raise SourceError(f"{path}: sheets {sheets[table]} and {name} are both {table}; rename one")
            sheets[table] = name
    if len(sheets) == len(names) and "drains" not in sheets:
        raise SourceError(
            f"{path}: no sheet of drains; name the sheet with the oil changes 'drains'{_hidden_too(hidden)}"
        )
    return sheets
