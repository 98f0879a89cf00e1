"""The tables of one file: the kind of file is told by its first bytes, then by its name."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from draincurve.pipeline.reading.sources.csv_file import read_csv_file
from draincurve.pipeline.reading.sources.parquet_file import read_parquet_file
from draincurve.pipeline.reading.sources.source_table import SourceTable, file_bytes
from draincurve.pipeline.reading.sources.sqlite_file import SQLITE_START, read_sqlite_table, read_sqlite_tables
from draincurve.pipeline.reading.sources.workbook import read_sheet, sheet_names
from draincurve.schemas.columns import TABLES
from draincurve.schemas.errors import SourceError

FileKind = Literal["csv", "workbook", "parquet", "sqlite"]

_WORKBOOK_NAMES = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")
_WORKBOOK_STARTS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
_PARQUET_NAMES = (".parquet", ".pq")
_SQLITE_NAMES = (".db", ".sqlite", ".sqlite3", ".db3")


def file_log(path: Path) -> dict[str, SourceTable]:
    """Every table of a log in one file; `drains` is always there, perhaps without a row.

    CSV and Parquet hold drains. In a workbook each sheet named like a table of the contract is that table, in
    any case; without a sheet named drains the first other sheet is the drains. An SQLite file holds the tables that
    are named so. Raises SourceError for anything that cannot be read.
    """
    kind = file_kind(path)
    if kind == "sqlite":
        return read_sqlite_tables(path)
    if kind != "workbook":
        return {"drains": file_table(path, "drains")}
    tables: dict[str, SourceTable] = {}
    for table, sheet in _sheets_by_table(path).items():
        found = read_sheet(path, sheet, table)
        if found is not None:
            tables[table] = found
    if "drains" not in tables:
        raise SourceError(f"{path}: no rows of drains in the workbook; name their sheet 'drains'")
    return tables


def file_table(path: Path, table: str) -> SourceTable:
    """One table out of a file: in a workbook the sheet of that name, else the first; in SQLite the table so named."""
    kind = file_kind(path)
    if kind == "parquet":
        return read_parquet_file(path, table)
    if kind == "csv":
        return read_csv_file(path, table)
    if kind == "sqlite":
        return read_sqlite_table(path, table, table)
    names = sheet_names(path)
    sheet = next((name for name in names if name.strip().casefold() == table), names[0] if names else "")
    found = read_sheet(path, sheet, table)
    if found is None:
        raise SourceError(f"{path}: the sheet is empty; expected a header row and rows below it")
    return found


def _sheets_by_table(path: Path) -> dict[str, str]:
    names = sheet_names(path)
    sheets: dict[str, str] = {}
    for name in names:
        table = name.strip().casefold()
        if table in TABLES:
            if table in sheets:
                raise SourceError(f"{path}: sheets {sheets[table]} and {name} are both {table}; rename one")
            sheets[table] = name
    if "drains" not in sheets:
        first = next((name for name in names if name not in sheets.values()), None)
        if first is None:
            raise SourceError(f"{path}: no sheet of drains; name the sheet with the oil changes 'drains'")
        sheets = {"drains": first, **sheets}
    return sheets


def file_kind(path: Path) -> FileKind:
    """The kind of a file by its first bytes, then by its name; of one that is not there, by its name alone."""
    start = file_bytes(path, len(SQLITE_START)) if path.exists() else b""
    name = path.suffix.lower()
    if start.startswith(b"PAR1"):
        return "parquet"
    if start == SQLITE_START or name in _SQLITE_NAMES:
        return "sqlite"
    if start.startswith(_WORKBOOK_STARTS) or name in _WORKBOOK_NAMES:
        return "workbook"
    return "parquet" if name in _PARQUET_NAMES else "csv"
