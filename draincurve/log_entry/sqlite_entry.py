"""Adds a drain to a table of an SQLite database, in one transaction that is checked before it is committed."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from pathlib import Path

from draincurve.log_entry.drain_entry import AddedDrain, DrainEntry, EntryError, EntryRules, written_entry
from draincurve.log_entry.entry_cells import log_cells
from draincurve.log_entry.entry_check import questions_about
from draincurve.log_entry.log_columns import columns_of, missing_columns
from draincurve.pipeline.reading.sources import (
    LINE,
    chosen_table,
    quoted_name,
    table_names,
    table_within,
    text_or_bytes,
)
from draincurve.schemas.columns import DRAINS

WAIT_S = 30.0
"""Longest wait for another program that writes to the database."""


def add_to_sqlite(path: Path, table: str, *, entry: DrainEntry, rules: EntryRules) -> AddedDrain:
    """Add one drain to a table.

    Values are stored as text, as far as the type of the column allows. Raises EntryError where the drain is refused,
    also by a constraint of the database, and SourceError for a database or table that cannot be read. Whatever is
    raised, and whenever the process is killed, the table is unchanged or has the complete row.
    """
    if not path.exists() and not rules.new_log:
        raise EntryError(f"{path}: no such file; check the name, or begin a log with --new")
    with _transaction(path) as database:
        name = _table(database, path, table=table, rules=rules)
        before = table_within(database, path, name=name, table="drains")
        header = _columns(database, name)
        entry = written_entry(entry, columns_of(header, rules=rules), rules=rules)
        missing = missing_columns(entry, header, log=f"{path}, table {name}", rules=rules)
        for column in missing:
            database.execute(f"ALTER TABLE {quoted_name(name)} ADD COLUMN {quoted_name(column)} TEXT")
        positions, header = columns_of([*header, *missing], rules=rules), [*header, *missing]
        written = {column: entry.cells[column] for column in missing} | log_cells(entry, before, rules=rules)
        cells = {header[positions[column]]: text for column, text in written.items()}
        line = _insert(database, name, cells=cells)
        after = table_within(database, path, name=name, table="drains")
        if line is None or after.frame.get_column(LINE)[-1] != line:
            raise EntryError(
                f"{path}: table {name} has no row numbers of its own; insert by the database's own means"
            )
        questions = questions_about(entry, before=before, after=after, line=line, rules=rules)
    cells_text = ", ".join(f"{column} = {text}" for column, text in cells.items())
    return AddedDrain(f"{path}, table {name}, row {line}", cells_text, questions)


@contextmanager
def _transaction(path: Path) -> Iterator[sqlite3.Connection]:
    """An exclusive transaction, committed when the block ends and rolled back when it raises."""
    new = not path.exists()
    try:
        with closing(sqlite3.connect(path, timeout=WAIT_S, isolation_level=None)) as database:
            database.text_factory = text_or_bytes
            database.execute("PRAGMA foreign_keys = ON")
            database.execute("BEGIN IMMEDIATE")
            yield database
            database.execute("COMMIT")
    except sqlite3.Error as fault:
        reason = " ".join(str(fault).split())[:200]
        advice = (
            "another program holds it; try again later" if "locked" in reason else "correct that, or enter it there"
        )
        raise EntryError(f"not added: {path}: the database refuses it ({reason}); {advice}") from fault
    finally:
        if new and path.exists() and not path.stat().st_size:
            path.unlink()


def _table(database: sqlite3.Connection, path: Path, *, table: str, rules: EntryRules) -> str:
    """The name of the table as the database spells it; a missing one is created where that is allowed."""
    same = [name for name in table_names(database) if name.casefold() == table.casefold()]
    if not same and rules.new_log:
        columns = ", ".join(f"{quoted_name(column.name)} TEXT" for column in DRAINS)
        database.execute(f"CREATE TABLE {quoted_name(table)} ({columns})")
        return table
    return chosen_table(table, table_names(database), where=str(path))


def _columns(database: sqlite3.Connection, name: str) -> list[str]:
    return [str(row[1]) for row in database.execute(f"PRAGMA table_info({quoted_name(name)})")]


def _insert(database: sqlite3.Connection, name: str, *, cells: Mapping[str, str]) -> int | None:
    """Insert the row; return its number, None where the table has none."""
    columns, marks = ", ".join(map(quoted_name, cells)), ", ".join("?" * len(cells))
    cursor = database.execute(f"INSERT INTO {quoted_name(name)} ({columns}) VALUES ({marks})", list(cells.values()))
    return cursor.lastrowid
