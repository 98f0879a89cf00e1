"""Adds a drain to a table of a PostgreSQL database, in one transaction that is checked before it is committed."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import replace

import polars as pl

from draincurve.log_entry.drain_entry import AddedDrain, DrainEntry, EntryError, EntryRules, written_entry
from draincurve.log_entry.entry_cells import log_cells
from draincurve.log_entry.entry_check import questions_about
from draincurve.log_entry.log_columns import columns_of, missing_columns
from draincurve.pipeline.reading.sources import (
    LINE,
    NamedTable,
    Session,
    SourceAddress,
    SourceTable,
    named_table,
    primary_key,
    quoted_name,
    rows_of_table,
    server_of,
    session_with,
)
from draincurve.schemas.columns import DRAINS
from draincurve.schemas.errors import SourceError

KEY = "entry_number"
"""Primary key of a table that is begun here; a name that is no column of the contract."""
_KEY_COLUMN = f"{KEY} bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY"
_COLUMNS = """
    SELECT attname::text FROM pg_catalog.pg_attribute
    WHERE attrelid = $1::regclass AND attnum > 0 AND NOT attisdropped ORDER BY attnum
"""


def add_to_postgresql(address: SourceAddress, table: str, *, entry: DrainEntry, rules: EntryRules) -> AddedDrain:
    """Add one drain to a table that has a primary key.

    The server reads each cell as the type of its column. Writers wait for each other, as long as the session allows.
    Raises EntryError where the drain is refused, SourceError where the database refuses it or cannot be used.
    Whatever is raised, and whenever the process is killed, the table is unchanged or has the complete row.
    """
    with session_with(server_of(address.location, os.environ), writes=True) as session:
        named = _table(session, table, rules=rules)
        return _added(session, named, entry=entry, rules=rules)


def _added(session: Session, named: NamedTable, *, entry: DrainEntry, rules: EntryRules) -> AddedDrain:
    """Lock the table, write the row and check the whole log; the caller's session commits."""
    where = f"{session.server.label}, table {named.label}"
    session.executed(f"LOCK TABLE {named.quoted} IN SHARE ROW EXCLUSIVE MODE")
    key = primary_key(session, named)
    if not key:
        raise EntryError(
            f"{where}: has no primary key, by which the new row is found again; add one there: "
            f"ALTER TABLE {named.quoted} ADD {_KEY_COLUMN}"
        )
    before = rows_of_table(session, named, table="drains")
    header = [name for (name,) in session.executed(_COLUMNS, [named.quoted])]
    entry = written_entry(entry, columns_of(header, rules=rules), rules=rules)
    missing = missing_columns(entry, header, log=where, rules=rules)
    for column in missing:
        session.executed(f"ALTER TABLE {named.quoted} ADD COLUMN {quoted_name(column)} text")
    header = [*header, *missing]
    positions = columns_of(header, rules=rules)
    written = {column: entry.cells[column] for column in missing} | log_cells(entry, before, rules=rules)
    cells = {header[positions[column]]: text for column, text in written.items()}
    values = _insert(session, named, cells=cells, key=key)
    line = _line(session, named, key=dict(zip(key, values, strict=True)))
    session.executed("SET CONSTRAINTS ALL IMMEDIATE")
    after = rows_of_table(session, named, table="drains")
    questions = questions_about(entry, before=_making_room(before, line), after=after, line=line, rules=rules)
    key_text = ", ".join(f"{name} = {value}" for name, value in zip(key, values, strict=True))
    cells_text = ", ".join(f"{column} = {text}" for column, text in cells.items())
    return AddedDrain(f"{where}, row {line} ({key_text})", cells_text, questions)


def _table(session: Session, table: str, *, rules: EntryRules) -> NamedTable:
    """The table; a missing one is created where that is allowed. Raises EntryError for a view."""
    try:
        named = named_table(session, table)
    except SourceError:
        if not rules.new_log:
            raise
        columns = ", ".join(f"{quoted_name(column.name)} text" for column in DRAINS)
        name = ".".join(map(quoted_name, table.split(".", 1)))
        session.executed(f"CREATE TABLE {name} ({_KEY_COLUMN}, {columns})")
        named = named_table(session, table)
    if not named.holds_rows:
        raise EntryError(
            f"{session.server.label}, {named.label}: is a view, or a table of another server; name the table itself"
        )
    return named


def _insert(session: Session, named: NamedTable, *, cells: Mapping[str, str], key: Sequence[str]) -> Sequence[str]:
    """Insert the row; return the values of its key as text."""
    columns, marks = ", ".join(map(quoted_name, cells)), ", ".join(f"${place}" for place in range(1, len(cells) + 1))
    returned = ", ".join(f"{quoted_name(name)}::text" for name in key)
    rows = session.executed(
        f"INSERT INTO {named.quoted} ({columns}) VALUES ({marks}) RETURNING {returned}", list(cells.values())
    )
    if len(rows) != 1:
        raise EntryError(
            f"not added: {session.server.label}: a rule of the database keeps the row out of {named.label}; enter it "
            "there"
        )
    return rows[0]


def _line(session: Session, named: NamedTable, *, key: Mapping[str, str]) -> int:
    """The number of the row with that key, in the order in which the table is read."""
    order = ", ".join(map(quoted_name, key))
    sought = " AND ".join(f"{quoted_name(name)}::text = ${place}" for place, name in enumerate(key, start=1))
    numbered = f"SELECT row_number() OVER (ORDER BY {order}) AS line, {order} FROM {named.quoted}"
    rows = session.executed(f"SELECT line FROM ({numbered}) AS rows WHERE {sought}", list(key.values()))
    if len(rows) != 1:
        raise EntryError(
            f"not added: {session.server.label}: {named.label} has {len(rows)} rows with the new row's key, {key}; "
            "enter it there"
        )
    return int(rows[0][0])


def _making_room(before: SourceTable, line: int) -> SourceTable:
    """The table with the lines that its rows have once there is a new row in this line."""
    return replace(before, frame=before.frame.with_columns(pl.col(LINE) + (pl.col(LINE) >= line).cast(pl.Int64)))
