"""Tables and queries of an SQLite file as text. The file is never changed."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from urllib.parse import quote

import polars as pl

from draincurve.pipeline.reading.sources.addresses import SourceAddress
from draincurve.pipeline.reading.sources.bounds import refuse_many_columns
from draincurve.pipeline.reading.sources.database_tables import (
    chosen_table,
    column_text,
    contract_tables,
    quoted_name,
    rows_as_table,
)
from draincurve.pipeline.reading.sources.source_table import SourceTable, file_bytes
from draincurve.schemas.errors import SourceError

SQLITE_START = b"SQLite format 3\x00"
LOCK_SECONDS = 10.0
LONGEST_CELL = 100_000_000
"""Largest cell that is read [bytes]; a damaged file may claim any size."""
QUERY_SECONDS = 600.0
"""Longest time for the rows of one table or query [s]."""

_PIECE = 50_000
_NAME_NO_TEXT = "a name in it is no UTF-8 text; rename it, or restore a damaged file"
_WAL_VERSION = b"\x02\x02"
_ROW_NUMBERS = ("_rowid_", "rowid", "oid")


def read_sqlite_tables(path: Path) -> dict[str, SourceTable]:
    """Every table named as in the contract, in any case. Raises SourceError as below, and without drains."""
    with _opened(path) as database:
        names = contract_tables(table_names(database), str(path))
        return {table: table_within(database, path, name=name, table=table) for table, name in names.items()}


def read_sqlite_table(path: Path, part: str, *, table: str) -> SourceTable:
    """One table, view or query, as text.

    Cells become text as in `column_text`. The line of a row is its rowid, where the table has one; otherwise rows are
    sorted by all columns and numbered. Raises SourceError for a file that is no database, a missing table, a query
    that fails, writes or takes too long, and a locked or damaged database.
    """
    with _opened(path) as database:
        if SourceAddress("sqlite", str(path), part).is_query:
            return _read(
                database,
                path,
                select=f"SELECT * FROM (\n{part.rstrip().rstrip(';')}\n)",
                part="query",
                table=table,
                numbered=False,
            )
        return table_within(
            database, path, name=chosen_table(part, table_names(database), where=str(path)), table=table
        )


def table_within(database: sqlite3.Connection, path: Path, *, name: str, table: str) -> SourceTable:
    """One table or view by its exact name, as in `read_sqlite_table`, within the transaction of a connection."""
    number = _row_number(database, name)
    selected = f"{number}, *" if number else "*"
    return _read(
        database,
        path,
        select=f"SELECT {selected} FROM {quoted_name(name)}",
        part=name,
        table=table,
        numbered=number is not None,
    )


def _read(
    database: sqlite3.Connection, path: Path, *, select: str, part: str, table: str, numbered: bool
) -> SourceTable:
    """Rows of a select; `numbered`: its first column is the line."""
    try:
        return _read_once(database, path, select=select, part=part, table=table, numbered=numbered)
    except sqlite3.OperationalError as fault:
        if "decode" not in str(fault):
            raise
        database.text_factory = text_or_bytes  # many times slower, and hardly ever needed
        return _read_once(database, path, select=select, part=part, table=table, numbered=numbered)


def _read_once(
    database: sqlite3.Connection, path: Path, *, select: str, part: str, table: str, numbered: bool
) -> SourceTable:
    """The same with the connection's text factory. Raises OperationalError where a text is not UTF-8."""
    names = [str(item[0]) for item in database.execute(f"{select} LIMIT 0").description]
    headers = names[1:] if numbered else names
    refuse_many_columns(len(headers), f"{path.name}[{part}]")
    order = "1" if numbered else ", ".join(str(position) for position in range(1, len(names) + 1))
    cursor = database.execute(f"{select} ORDER BY {order}")
    lines: list[int] = []
    cells, blobs = [_empty(headers, pl.String)], [_empty(headers, pl.Boolean)]
    while rows := cursor.fetchmany(_PIECE):
        columns = list(zip(*rows, strict=True))
        if numbered:
            lines.extend(columns.pop(0))
        texts = [column_text(column) for column in columns]
        cells.append(pl.DataFrame([text.alias(str(position)) for position, (text, _) in enumerate(texts)]))
        blobs.append(pl.DataFrame([blob.alias(str(position)) for position, (_, blob) in enumerate(texts)]))
    all_cells = pl.concat(cells)
    line = pl.Series(lines, dtype=pl.Int64) if numbered else pl.int_range(1, all_cells.height + 1, eager=True)
    return rows_as_table(
        table, f"{path.name}[{part}]", headers=headers, lines=line, cells=all_cells, blobs=pl.concat(blobs)
    )


def _empty(headers: list[str], kind: type[pl.DataType]) -> pl.DataFrame:
    return pl.DataFrame(schema={str(position): kind for position in range(len(headers))})


def _row_number(database: sqlite3.Connection, name: str) -> str | None:
    """The column that returns the table's rowids; None for a view and for a table without rowids of 1 and more."""
    columns = {str(row[1]).casefold() for row in database.execute(f"PRAGMA table_info({quoted_name(name)})")}
    number = next((word for word in _ROW_NUMBERS if word not in columns), None)
    kind = database.execute("SELECT type FROM sqlite_master WHERE name = ?", (name,)).fetchone()
    if number is None or kind is None or kind[0] != "table":
        return None
    try:
        lowest = database.execute(f"SELECT min({number}) FROM {quoted_name(name)}").fetchone()[0]
    except sqlite3.OperationalError:  # a table WITHOUT ROWID
        return None
    return number if lowest is None or lowest >= 1 else None


def table_names(database: sqlite3.Connection) -> list[str]:
    """Names of the tables and views, in order."""
    rows = database.execute(
        "SELECT name FROM sqlite_master WHERE type IN ('table', 'view') AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\' "
        "ORDER BY name"
    )
    return [str(row[0]) for row in rows]


@contextmanager
def _opened(path: Path) -> Iterator[sqlite3.Connection]:
    """The database, read-only and within one transaction. Its errors are raised as SourceError."""
    start = file_bytes(path, len(SQLITE_START) + 4)
    if not start.startswith(SQLITE_START):
        raise SourceError(f"{path}: is not an SQLite database; check the file")
    # A database in WAL mode that nobody has open is opened as immutable: else SQLite would create files beside it.
    at_rest = start[-2:] == _WAL_VERSION and not path.with_name(f"{path.name}-wal").exists()
    address = f"file:{quote(str(path.absolute()))}?mode=ro{'&immutable=1' if at_rest else ''}"
    before = path.stat()
    try:
        with closing(sqlite3.connect(address, uri=True, timeout=LOCK_SECONDS, isolation_level=None)) as database:
            database.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, LONGEST_CELL)
            limit = time.monotonic() + QUERY_SECONDS
            database.set_progress_handler(lambda: time.monotonic() > limit, 1_000_000)
            database.execute("PRAGMA trusted_schema = OFF")
            database.execute("BEGIN")
            yield database
    except sqlite3.Error as fault:
        raise SourceError(f"{path}: {_advice(fault)}") from fault
    except MemoryError as fault:
        raise SourceError(f"{path}: more than this machine's memory holds, or damaged; name fewer rows") from fault
    except UnicodeDecodeError as fault:  # from a heading, which no text factory sees
        raise SourceError(f"{path}: {_NAME_NO_TEXT}") from fault
    after = path.stat()
    if at_rest and (before.st_mtime_ns, before.st_size) != (after.st_mtime_ns, after.st_size):
        raise SourceError(f"{path}: was written to while it was read; try again")


def text_or_bytes(stored: bytes) -> str | bytes:
    """Text as stored; bytes where it is not UTF-8, so that only the cell is refused, not the table."""
    try:
        return stored.decode("utf-8")
    except UnicodeDecodeError:
        return stored


def _advice(fault: sqlite3.Error) -> str:
    """What to do about an error of SQLite."""
    reason = " ".join(str(fault).split())[:200]
    known = {
        "locked": "is locked by another program; close it there, or try again later",
        "not a database": "is not an SQLite database, or is encrypted; check the file",
        "decode": _NAME_NO_TEXT,
        "too big": f"holds a cell of more than {LONGEST_CELL // 1_000_000} MB; leave its column out by a query",
        "malformed": "is damaged; restore it from a copy",
        "unable to open": "cannot be opened; check that you may read the file and its folder",
        "readonly": "the query would change the database, which is never done; name one that only reads",
        "interrupted": f"the query takes longer than {QUERY_SECONDS:g} s; narrow it",
    }
    for word, advice in known.items():
        if word in reason:
            return f"{advice} ({reason})"
    return f"the query fails ({reason}); try it in the database first"
