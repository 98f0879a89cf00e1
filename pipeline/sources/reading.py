"""Any file to its tables: the kind of file is told by its first bytes, then by its name."""

from __future__ import annotations

from pathlib import Path

from pipeline.sources.csv_file import read_csv_file
from pipeline.sources.parquet_file import read_parquet_file
from pipeline.sources.source_table import SourceTable, file_bytes
from pipeline.sources.workbook import read_sheet, sheet_names
from schemas.columns import TABLES
from schemas.errors import SourceError

_WORKBOOK_NAMES = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")
_WORKBOOK_STARTS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")


def read_log(path: Path) -> dict[str, SourceTable]:
    """Every table of a log.

    CSV and Parquet hold drains. In a workbook each sheet named like a table of the contract is that table, in
    any case; without a sheet named drains the first other sheet is the drains. Raises SourceError, in one
    line, for anything that cannot be read and for a log without rows.
    """
    if _kind(path) != "workbook":
        return {"drains": read_table(path, "drains")}
    sheets = _sheets_by_table(path)
    tables: dict[str, SourceTable] = {}
    for table, sheet in sheets.items():
        found = read_sheet(path, sheet, table)
        if found is not None:
            tables[table] = found
    if "drains" not in tables:
        raise SourceError(f"{path}: no rows of drains in the workbook; name their sheet 'drains'")
    return {table: _with_rows(found, path) for table, found in tables.items()}


def read_table(path: Path, table: str) -> SourceTable:
    """One table out of a file; in a workbook the sheet of that name, else the first sheet."""
    kind = _kind(path)
    if kind == "parquet":
        found: SourceTable | None = read_parquet_file(path, table)
    elif kind == "csv":
        found = read_csv_file(path, table)
    else:
        names = sheet_names(path)
        sheet = next((name for name in names if name.strip().casefold() == table), names[0] if names else "")
        found = read_sheet(path, sheet, table)
    if found is None:
        raise SourceError(f"{path}: the sheet is empty; expected a header row and rows below it")
    return _with_rows(found, path)


def _with_rows(found: SourceTable, path: Path) -> SourceTable:
    """The table; drains without a single row are refused, other tables may be empty."""
    if found.table == "drains" and not found.frame.height:
        raise SourceError(f"{path}: a header but no row below it; expected one row for each oil change")
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


def _kind(path: Path) -> str:
    start = file_bytes(path)[:4]
    if start == b"PAR1":
        return "parquet"
    if start in _WORKBOOK_STARTS or path.suffix.lower() in _WORKBOOK_NAMES:
        return "workbook"
    return "parquet" if path.suffix.lower() in (".parquet", ".pq") else "csv"
