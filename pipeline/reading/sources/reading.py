"""Any address to its tables."""

from __future__ import annotations

from pathlib import Path

from draincurve.pipeline.reading.sources.one_file import file_log, file_table
from draincurve.pipeline.reading.sources.postgresql import read_postgresql_table, read_postgresql_tables
from draincurve.pipeline.reading.sources.several_files import files_of, put_together
from draincurve.pipeline.reading.sources.source_address import SourceAddress, address_of
from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.pipeline.reading.sources.sqlite_file import read_sqlite_table, read_sqlite_tables
from draincurve.schemas.errors import SourceError


def read_log(place: SourceAddress | Path) -> dict[str, SourceTable]:
    """Every table of a log, `drains` among them.

    A workbook and a database hold the tables whose names are those of the contract; a table or query named in the
    address is drains. Raises SourceError, in one line, for anything that cannot be read and for a log without rows.
    """
    address = address_of(place)
    if address.part is not None:
        return {"drains": read_table(address, "drains")}
    if address.kind == "postgresql":
        tables = read_postgresql_tables(address)
    elif address.kind == "sqlite":
        tables = read_sqlite_tables(address.path)
    else:
        logs = [(file, file_log(file)) for file in files_of(address.path)]
        names = dict.fromkeys(table for _, log in logs for table in log)
        tables = {
            table: put_together(address.path, [(file, log[table]) for file, log in logs if table in log])
            for table in names
        }
    return {table: _with_rows(found, address) for table, found in tables.items()}


def read_table(place: SourceAddress | Path, table: str) -> SourceTable:
    """One table, by its name in the contract, from an address. Raises SourceError, in one line."""
    address = address_of(place)
    if address.kind == "postgresql":
        found = read_postgresql_table(address, table)
    elif address.kind == "sqlite":
        found = read_sqlite_table(address.path, address.part or table, table)
    else:
        files = files_of(address.path)
        found = put_together(address.path, [(file, file_table(file, table)) for file in files])
    return _with_rows(found, address)


def _with_rows(found: SourceTable, address: SourceAddress) -> SourceTable:
    """The table; drains without a single row are refused, other tables may be empty."""
    if found.table == "drains" and not found.frame.height:
        nothing = "a header but no row below it" if address.kind == "files" else "no row in it"
        raise SourceError(f"{address.words}: {nothing}; expected one row for each oil change")
    return found
