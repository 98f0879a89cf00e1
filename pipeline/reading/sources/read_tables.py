"""The tables of a log from any address: CSV, workbook, Parquet, SQLite or PostgreSQL."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from draincurve.pipeline.reading.sources.addresses import SourceAddress, address_of
from draincurve.pipeline.reading.sources.csv_file import read_csv_file
from draincurve.pipeline.reading.sources.parquet_file import read_parquet_file
from draincurve.pipeline.reading.sources.postgresql import read_postgresql_table, read_postgresql_tables
from draincurve.pipeline.reading.sources.reading_options import DEFAULT_OPTIONS, ReadingOptions
from draincurve.pipeline.reading.sources.several_files import combined, matching_files
from draincurve.pipeline.reading.sources.source_table import SourceTable, file_bytes
from draincurve.pipeline.reading.sources.sqlite_file import SQLITE_START, read_sqlite_table, read_sqlite_tables
from draincurve.pipeline.reading.sources.steady_file import steadily
from draincurve.pipeline.reading.sources.workbook_file import read_workbook_log, read_workbook_table
from draincurve.schemas.errors import SourceError

FileKind = Literal["csv", "workbook", "parquet", "sqlite"]

_WORKBOOK_NAMES = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")
_WORKBOOK_STARTS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
_PARQUET_NAMES = (".parquet", ".pq")
_SQLITE_NAMES = (".db", ".sqlite", ".sqlite3", ".db3")


def read_log(location: SourceAddress | Path, options: ReadingOptions = DEFAULT_OPTIONS) -> dict[str, SourceTable]:
    """Every table of a log, `drains` among them.

    A workbook and a database hold the tables whose names are those of the contract; a table or query named in the
    address is drains. Raises SourceError, in one line, for anything that cannot be read and for a log without rows.
    """
    address = address_of(location)
    if address.part is not None:
        return {"drains": read_table(address, "drains", options)}
    if address.kind == "postgresql":
        tables = read_postgresql_tables(address)
    elif address.kind == "sqlite":
        tables = read_sqlite_tables(address.path)
    else:
        logs = [(file, _tables_of_file(file, options)) for file in matching_files(address.path)]
        names = dict.fromkeys(table for _, log in logs for table in log)
        tables = {
            table: combined(address.path, [(file, log[table]) for file, log in logs if table in log])
            for table in names
        }
    return {table: _with_rows(table_read, address) for table, table_read in tables.items()}


def read_table(location: SourceAddress | Path, table: str, options: ReadingOptions = DEFAULT_OPTIONS) -> SourceTable:
    """One table, by its name in the contract, from an address. Raises SourceError, in one line."""
    address = address_of(location)
    if address.kind == "postgresql":
        table_read = read_postgresql_table(address, table)
    elif address.kind == "sqlite":
        table_read = read_sqlite_table(address.path, address.part or table, table=table)
    else:
        files = matching_files(address.path)
        table_read = combined(address.path, [(file, _table_of_file(file, table, options)) for file in files])
    return _with_rows(table_read, address)


def _with_rows(table: SourceTable, address: SourceAddress) -> SourceTable:
    """The table. A table of drains without rows is refused; other tables may be empty."""
    if table.table == "drains" and not table.frame.height:
        nothing = "a header but no row below it" if address.kind == "files" else "no row in it"
        unseen = [note for note in table.notes if "hidden" in note and "not read" in note]
        empty = "; ".join(unseen) or "empty as it came: expected one row for each oil change"
        raise SourceError(f"{address.full_label}: {nothing}: {empty}")
    return table


def _tables_of_file(path: Path, options: ReadingOptions) -> dict[str, SourceTable]:
    """Every table of a log in one file; `drains` is always there, perhaps without a row.

    CSV and Parquet hold drains; a workbook and an SQLite file may hold all tables. Raises SourceError for anything
    that cannot be read.
    """
    kind = file_kind(path)
    if kind == "sqlite":
        return read_sqlite_tables(path)
    if kind == "workbook":
        return steadily(path, lambda: read_workbook_log(path, options))
    return {"drains": _table_of_file(path, "drains", options)}


def _table_of_file(path: Path, table: str, options: ReadingOptions) -> SourceTable:
    """One table of a file: in a workbook the sheet of that name, else the first; in SQLite the table of that name."""
    kind = file_kind(path)
    if kind == "sqlite":
        return read_sqlite_table(path, table, table=table)

    def read() -> dict[str, SourceTable]:
        if kind == "parquet":
            return {table: read_parquet_file(path, table, processing=options.processing)}
        if kind == "csv":
            return {table: read_csv_file(path, table, options)}
        return {table: read_workbook_table(path, table, options)}

    return steadily(path, read)[table]


def file_kind(path: Path) -> FileKind:
    """The kind of a file by its first bytes, then by its name. For a file that does not exist, by its name alone."""
    start = file_bytes(path, len(SQLITE_START)) if path.exists() else b""
    name = path.suffix.lower()
    if start.startswith(b"PAR1"):
        return "parquet"
    if start == SQLITE_START or name in _SQLITE_NAMES:
        return "sqlite"
    if start.startswith(_WORKBOOK_STARTS) or name in _WORKBOOK_NAMES:
        return "workbook"
    return "parquet" if name in _PARQUET_NAMES else "csv"
