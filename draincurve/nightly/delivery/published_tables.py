"""The tables of the nights in a PostgreSQL schema of their own: the newest answers, and those of every night."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from itertools import chain
from pathlib import Path

import polars as pl

from draincurve.pipeline.reading.sources import Session, quoted_name
from draincurve.reports.tables.csv_tables import written_rows
from draincurve.schemas.errors import SourceError
from draincurve.schemas.next_service_table import NextService

NOW = "next_service"
HISTORY = "next_service_history"

_OUR_COMMENT = "Written by draincurve nightly"
"""The comment on our tables, which distinguishes them from other programs' tables."""
_NIGHT = {"night": "date", "run_id": "text", "made_at": "timestamptz"}
_TYPES = {
    pl.String: "text",
    pl.Int64: "bigint",
    pl.Float64: "double precision",
    pl.Date: "date",
    pl.Boolean: "boolean",
}
_COLUMNS = _NIGHT | {name: _TYPES[column.dtype.type] for name, column in NextService.to_schema().columns.items()}
"""Type of each column of both tables."""


@dataclass(frozen=True, slots=True)
class KeptNight:
    """A night whose report is kept.

    run_id : the same for every run on the same inputs; night : day that the answers are for; made_at : with its time
    zone; folder : of the report
    """

    run_id: str
    night: date
    made_at: datetime
    folder: Path

    @property
    def table(self) -> Path:
        """The report's table of answers."""
        return self.folder / f"{NOW}.csv"


def write_answers(session: Session, schema: str, night: KeptNight) -> int:
    """Replace the newest answers by those of a night; return the number of its units.

    The caller's session commits, so that others see all of it or nothing. Schema, tables and columns that are missing
    are made; columns of earlier versions are kept. Raises SourceError for a table that was not made here, OSError for
    a report that is gone, psycopg.Error.
    """
    now = _locked_table(session, schema, name=NOW)
    session.executed(f"DELETE FROM {now}")
    return _append(session, now, night)


def write_history(session: Session, schema: str, night: KeptNight) -> bool:
    """Append a night to the history, unless it is there; return whether it was appended. As write_answers."""
    history = _locked_table(session, schema, name=HISTORY)
    if in_history(session, schema, night):
        return False
    _append(session, history, night)
    return True


def in_history(session: Session, schema: str, night: KeptNight) -> bool:
    """Whether the history, which exists, has a night."""
    query = f"SELECT 1 FROM {quoted_name(schema)}.{quoted_name(HISTORY)} WHERE run_id = $1 LIMIT 1"
    return bool(session.executed(query, [night.run_id]))


def _locked_table(session: Session, schema: str, *, name: str) -> str:
    """The full name of a table, which is made or given columns as needed, and which others cannot write to now."""
    if not session.executed("SELECT 1 FROM pg_catalog.pg_namespace WHERE nspname = $1", [schema]):
        session.executed(f"CREATE SCHEMA {quoted_name(schema)}")
    full = f"{quoted_name(schema)}.{quoted_name(name)}"
    comments = session.executed(
        "SELECT pg_catalog.obj_description(c.oid, 'pg_class') FROM pg_catalog.pg_class c "
        "JOIN pg_catalog.pg_namespace n ON n.oid = c.relnamespace WHERE n.nspname = $1 AND c.relname = $2",
        [schema, name],
    )
    if not comments:
        session.executed(f"CREATE TABLE {full} ()")
        session.executed(f"COMMENT ON TABLE {full} IS '{_OUR_COMMENT}'")
    elif comments[0][0] != _OUR_COMMENT:
        raise SourceError(
            f"{session.server.label}: {schema}.{name} was not made by this program, and is left as it is; name "
            "another schema under [publish]"
        )
    existing = session.executed(
        "SELECT attname::text FROM pg_catalog.pg_attribute WHERE attrelid = $1::regclass AND NOT attisdropped", [full]
    )
    added = [f"ADD {quoted_name(column)} {kind}" for column, kind in _COLUMNS.items() if (column,) not in existing]
    if added:
        session.executed(f"ALTER TABLE {full} {', '.join(added)}")
    if name == HISTORY and not comments:
        session.executed(f"CREATE INDEX ON {full} (run_id)")
    session.executed(f"LOCK TABLE {full} IN SHARE ROW EXCLUSIVE MODE")
    return full


def _append(session: Session, table: str, night: KeptNight) -> int:
    """Append the answers of a night; return the number of units."""
    rows = written_rows(night.table)
    first = next(rows, None)
    if first is None:
        return 0
    named = (night.night.isoformat(), night.run_id, night.made_at.isoformat())
    known = [name for name in _COLUMNS if name in first]
    cells = ([*named, *(row[name] for name in known)] for row in chain([first], rows))
    columns = ", ".join(map(quoted_name, [*_NIGHT, *known]))
    return session.stored(f"COPY {table} ({columns}) FROM STDIN", cells)
