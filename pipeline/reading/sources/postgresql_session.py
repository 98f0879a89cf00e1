"""A session with a PostgreSQL server: one login, one transaction, and rows that stream in."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from draincurve.pipeline.reading.sources.postgresql_server import (
    CONNECT_SECONDS,
    STATEMENT_SECONDS,
    Server,
    connection_keywords,
    without_secret,
)
from draincurve.schemas.errors import SourceError, TransientSourceError

if TYPE_CHECKING:
    import psycopg

_PIECE_BYTES = 16_000_000
_CANCEL_SECONDS = 3.0
_NO_DRIVER = "PostgreSQL needs an extra: pip install 'draincurve[postgresql]'"
_ADVICE = {
    "password authentication failed": "user or password are not accepted; check PGUSER and PGPASSWORD or the "
    "password file",
    "no password supplied": "a password is needed; set PGPASSWORD or a password file",
    "permission denied": "this user may not read it; ask for the right to select",
    "read-only transaction": "the query would change the database, which is never done; name one that only reads",
    "statement timeout": f"the query takes longer than {STATEMENT_SECONDS} s; narrow it",
    "lock timeout": "the table is locked by another program; try again later",
    "timeout expired": f"no connection within {CONNECT_SECONDS} s; check database, user and server",
    "does not support SSL": "the server does not support TLS; ask for it there, or leave sslmode out",
}
"""What to do about messages of the server and of its library, by words in them."""
_ADVICE_ON_WRITING = _ADVICE | {
    "permission denied": "this user may not write there; ask for that right",
    "read-only transaction": "this server only reads; name the one that is written to",
    "statement timeout": f"it takes longer than {STATEMENT_SECONDS} s; try again later",
    "deadlock": "another program holds what is needed; try again later",
}
_NOT_KNOWN = "the connection was lost at the last step; look there whether it was written before you try again"


@dataclass(frozen=True, slots=True)
class Session:
    """An open transaction on a server."""

    server: Server
    _connection: psycopg.Connection[tuple[Any, ...]]

    def queried(self, query: str) -> list[tuple[Any, ...]]:
        """Rows of one statement that reads. Raises psycopg.Error, also for several statements in one text."""
        return self._connection.execute(query, prepare=True).fetchall()

    def executed(self, statement: str, values: Sequence[str | None] = ()) -> list[tuple[Any, ...]]:
        """Carry out one statement; rows that it returns. Raises psycopg.Error.

        values : for $1, $2 and so on, as text that the server itself reads as the type of its place
        """
        import psycopg

        with psycopg.RawCursor(self._connection) as cursor:
            cursor.execute(statement, values)
            return cursor.fetchall() if cursor.description is not None else []

    def stored(self, command: str, rows: Iterable[Sequence[str | None]]) -> int:
        """Send rows to a COPY ... FROM STDIN, and return how many; the server reads each cell as its column's type.

        Raises psycopg.Error.
        """
        count = 0
        with self._connection.cursor() as cursor, cursor.copy(command) as copy:
            for row in rows:
                copy.write_row(row)
                count += 1
        return count

    def copied(self, query: str, names: list[str]) -> pl.DataFrame:
        """Rows of a statement as text, a column for each name, read as they come.

        The statement has to have passed `queried` before, which refuses several in one text. Raises psycopg.Error.
        """
        schema = pl.Schema({_FIRST: pl.String} | dict.fromkeys(names, pl.String))
        pieces = [pl.DataFrame(schema=schema)]
        waiting = io.BytesIO()
        command = f"COPY (SELECT 0, rows.* FROM ({query}) AS rows) TO STDOUT (FORMAT csv)"
        with self._connection.cursor() as cursor, cursor.copy(command) as copy:
            for block in copy:  # each block ends with a row
                waiting.write(block)
                if waiting.tell() >= _PIECE_BYTES:
                    pieces.append(_texts(waiting, schema))
                    waiting = io.BytesIO()
        if waiting.tell():
            pieces.append(_texts(waiting, schema))
        return pl.concat(pieces).drop(_FIRST)


_FIRST = "first"
"""A column that is never empty: a row of nothing else would be an empty line, which no reader of CSV sees."""


@contextmanager
def session_with(
    server: Server,
    *,
    writes: bool = False,
    opened: Callable[[psycopg.Connection[tuple[Any, ...]]], None] = lambda _: None,
) -> Iterator[Session]:
    """A session within the block.

    Raises SourceError with the server's own reason, without the password: TransientSourceError where a later try may
    succeed.

    writes : whether the transaction may write; it is committed at the end of the block, and rolled back where the
    block raises. Its statements see what others have committed, so that they see all of a table that it has locked.
    Without it the transaction reads one snapshot. Whatever ends the block early also ends the query at the server.
    opened : called with the connection before it is used
    """
    try:
        import psycopg
    except ImportError as fault:
        raise SourceError(f"{server.label}: {_NO_DRIVER}") from fault
    try:
        connection = psycopg.connect(**connection_keywords(server))  # type: ignore[arg-type]
    except psycopg.Error as fault:
        raise _refusal(server, fault) from None
    committing = False
    try:
        opened(connection)
        level = psycopg.IsolationLevel
        connection.read_only = not writes
        connection.isolation_level = level.READ_COMMITTED if writes else level.REPEATABLE_READ
        yield Session(server, connection)
        if writes:
            committing = True
            connection.commit()
    except psycopg.Error as fault:
        if committing and connection.broken:
            raise TransientSourceError(f"{server.label}: {_NOT_KNOWN}") from None
        reason = _error_text(server, fault)
        if writes:
            reason = f"nothing was written: {_advice(reason, 'the database refuses it', _ADVICE_ON_WRITING)}"
        else:
            reason = _advice(reason, "the query fails")
        kind = TransientSourceError if isinstance(fault, psycopg.OperationalError) else SourceError
        raise kind(f"{server.label}: {reason}") from None
    except BaseException:
        with suppress(psycopg.Error):
            connection.cancel_safe(timeout=_CANCEL_SECONDS)
        raise
    finally:
        connection.close()


def _texts(content: io.BytesIO, schema: pl.Schema) -> pl.DataFrame:
    content.seek(0)
    return pl.read_csv(content, has_header=False, schema=schema)


def _refusal(server: Server, fault: psycopg.Error) -> SourceError:
    """Why there is no session: the server's word, or that there is no server."""
    reason = _error_text(server, fault)
    if "FATAL" in reason or any(words in reason for words in _ADVICE):
        kind = TransientSourceError if "timeout expired" in reason else SourceError
        return kind(f"{server.label}: {_advice(reason, 'the server refuses')}")
    return TransientSourceError(
        f"{server.label}: the database cannot be reached ({reason.rpartition(': ')[2][:200]}); is it running, and "
        "are host and port right?"
    )


def _error_text(server: Server, fault: psycopg.Error) -> str:
    return without_secret(" ".join(str(fault).split()), server)[:300]


def _advice(reason: str, otherwise: str, known: Mapping[str, str] = _ADVICE) -> str:
    """What to do about a message."""
    for words, advice in known.items():
        if words in reason:
            return f"{advice} ({reason})"
    return f"{otherwise} ({reason}); try it in the database first"
