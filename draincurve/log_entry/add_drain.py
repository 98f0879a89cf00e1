"""Adds one drain to a log of any kind that can be written."""

from __future__ import annotations

from draincurve.log_entry.csv_entry import add_to_csv
from draincurve.log_entry.drain_entry import AddedDrain, DrainEntry, EntryError, EntryRules
from draincurve.log_entry.postgresql_entry import add_to_postgresql
from draincurve.log_entry.sqlite_entry import add_to_sqlite
from draincurve.pipeline.reading.sources import file_kind, source_address

DRAINS_TABLE = "drains"


def add_drain(log: str, entry: DrainEntry, *, rules: EntryRules) -> AddedDrain:
    """Add one drain to a CSV file or a table of an SQLite or PostgreSQL database.

    log : an address, as in every command. Raises EntryError for a log of another kind and for a refused drain,
    SourceError for a log that cannot be read, OSError for one that cannot be written.
    """
    address = source_address(log)
    if address.is_query:
        raise EntryError(f"{address.label}: a query cannot be added to; name a table")
    if address.kind == "postgresql":
        return add_to_postgresql(address, address.part or DRAINS_TABLE, entry=entry, rules=rules)
    path = address.path
    kind = "sqlite" if address.kind == "sqlite" else file_kind(path)
    if kind == "sqlite":
        return add_to_sqlite(path, address.part or DRAINS_TABLE, entry=entry, rules=rules)
    if kind in ("workbook", "parquet"):
        raise EntryError(
            f"{path}: add writes into CSV files and databases; keep the log as one, or enter drains by hand in a "
            "workbook"
        )
    return add_to_csv(path, entry, rules=rules)
