"""Tables and queries of PostgreSQL as text. The server itself turns every value into its exact text."""

from __future__ import annotations

import os
from dataclasses import dataclass

import polars as pl

from draincurve.pipeline.reading.sources.addresses import SourceAddress
from draincurve.pipeline.reading.sources.database_tables import (
    chosen_table,
    contract_tables,
    quoted_name,
    rows_as_table,
)
from draincurve.pipeline.reading.sources.postgresql_server import server_of
from draincurve.pipeline.reading.sources.postgresql_session import Session, session_with
from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.schemas.errors import SourceError

_TABLES = """
    SELECT n.nspname::text AS schema, c.relname::text AS name, pg_table_is_visible(c.oid)::text AS visible,
        (c.relkind IN ('r', 'p'))::text AS holds_rows
    FROM pg_catalog.pg_class c JOIN pg_catalog.pg_namespace n ON n.oid = c.relnamespace
    WHERE c.relkind IN ('r', 'p', 'v', 'm', 'f') AND n.nspname <> 'information_schema' AND n.nspname !~ '^pg_'
    ORDER BY 1, 2
"""
_KEY = """
    SELECT a.attname::text AS name
    FROM pg_catalog.pg_index i
    CROSS JOIN LATERAL unnest(i.indkey::int2[]) WITH ORDINALITY AS k(attnum, position)
    JOIN pg_catalog.pg_attribute a ON a.attrelid = i.indrelid AND a.attnum = k.attnum
    WHERE i.indisprimary AND i.indrelid = {table}::regclass
    ORDER BY k.position
"""
_NAMES = """
    SELECT json_object_keys(row_to_json(shown)) AS name
    FROM (SELECT asked.* FROM (SELECT 1) AS one LEFT JOIN (SELECT * FROM ({select}
    ) AS q LIMIT 0) AS asked ON true) AS shown
"""


@dataclass(frozen=True, slots=True)
class NamedTable:
    """A table of a schema.

    visible : whether it is found without naming the schema; holds_rows : no view, and no table of another server
    """

    schema: str
    name: str
    visible: bool
    holds_rows: bool

    @property
    def label(self) -> str:
        """The name as messages show it."""
        return self.name if self.visible else f"{self.schema}.{self.name}"

    @property
    def quoted(self) -> str:
        """The full name as SQL takes it."""
        return f"{quoted_name(self.schema)}.{quoted_name(self.name)}"


def read_postgresql_tables(address: SourceAddress) -> dict[str, SourceTable]:
    """Every table named as in the contract, in any case. Raises SourceError as below, and without drains."""
    with session_with(server_of(address.location, os.environ)) as session:
        by_label = {item.label: item for item in _tables(session)}
        names = contract_tables(list(by_label), session.server.label)
        return {table: rows_of_table(session, by_label[name], table=table) for table, name in names.items()}


def read_postgresql_table(address: SourceAddress, table: str) -> SourceTable:
    """One table, view or query, as text.

    Every value is the server's own exact text. Dates are in ISO form, times with zone in the session's zone (PGTZ,
    else the server's), numbers without trailing zeros, intervals in hours; bytes are no text (see SourceTable). Rows
    are numbered in the order of the primary key, or of all columns where there is none. Raises SourceError for a
    server, table or query that cannot be read (see postgresql_server).
    """
    with session_with(server_of(address.location, os.environ)) as session:
        if address.part is not None and address.is_query:
            select = address.part.rstrip().rstrip(";")
            return _read(session, select, key=[], part="query", table=table)
        return rows_of_table(session, named_table(session, address.part or table), table=table)


def named_table(session: Session, wanted: str) -> NamedTable:
    """The table of that name, with its schema or without, exactly or else in any case. Raises SourceError."""
    there = _tables(session)
    by_label = {item.label: item for item in there}
    full = {f"{item.schema}.{item.name}": item for item in there}
    if wanted in full:
        return full[wanted]
    return by_label[chosen_table(wanted, list(by_label), where=session.server.label)]


def primary_key(session: Session, named: NamedTable) -> list[str]:
    """The columns of a table's primary key, in its order; none without one."""
    return [name for (name,) in session.queried(_KEY.format(table=_literal(named.quoted)))]


def rows_of_table(session: Session, named: NamedTable, *, table: str) -> SourceTable:
    """The table, as `read_postgresql_table` gives it. Raises psycopg.Error, SourceError where it has no columns."""
    key = primary_key(session, named)
    return _read(session, f"SELECT * FROM {named.quoted}", key=key, part=named.label, table=table)


def _tables(session: Session) -> list[NamedTable]:
    return [
        NamedTable(schema, name, visible == "true", holds_rows == "true")
        for schema, name, visible, holds_rows in session.queried(_TABLES)
    ]


def _read(session: Session, select: str, *, key: list[str], part: str, table: str) -> SourceTable:
    """Rows of a select, sorted by the columns of `key`, or by all columns without a key."""
    headers = [name for (name,) in session.queried(_NAMES.format(select=select))]
    if not headers or headers == [None]:
        raise SourceError(f"{session.server.label}: {part}: has no columns; expected a table with headings")
    names = [f"c{position}" for position in range(len(headers))]
    asked = f"(SELECT * FROM ({select}\n) AS q) AS rows({', '.join(names)})"
    [kinds] = session.queried(
        f"SELECT {', '.join(f'pg_typeof({name})::text AS {name}' for name in names)} "
        f"FROM (SELECT 1) AS one LEFT JOIN (SELECT * FROM {asked} LIMIT 0) AS none ON true"
    )
    texts = [_text_of(name, kind) for name, kind in zip(names, kinds, strict=True)]
    order = [f"rows.{names[headers.index(name)]}" for name in key if name in headers]
    if not order:
        order = [f'{text} COLLATE "C" NULLS FIRST' for text in texts]
    cells = ", ".join(f"{text} AS {name}" for text, name in zip(texts, names, strict=True))
    rows = session.copied(f"SELECT {cells} FROM {asked} ORDER BY {', '.join(order)}", names)
    bytes_at = [
        rows[name].is_not_null() if kind == "bytea" else pl.repeat(False, rows.height, eager=True)
        for name, kind in zip(names, kinds, strict=True)
    ]
    blobs = pl.DataFrame([mark.alias(name) for mark, name in zip(bytes_at, names, strict=True)])
    nothing = pl.lit(None, pl.String)
    shown = rows.select(
        (nothing if kind == "bytea" else pl.col(name)).alias(name) for name, kind in zip(names, kinds, strict=True)
    )
    lines = pl.int_range(1, rows.height + 1, eager=True)
    source = f"{session.server.database}[{part}]"
    return rows_as_table(table, source, headers=headers, lines=lines, cells=shown, blobs=blobs)


def _text_of(name: str, kind: str) -> str:
    """SQL for the text of a column of that type."""
    if kind == "numeric":
        return f"trim_scale({name})::text"
    if kind == "interval":
        return f"trim_scale(extract(epoch FROM {name}) / 3600)::text"
    if kind == "bytea":
        return f"CASE WHEN {name} IS NOT NULL THEN 'bytes' END"
    return f"{name}::text"


def _literal(text: str) -> str:
    doubled = text.replace("'", "''")
    return f"'{doubled}'"
