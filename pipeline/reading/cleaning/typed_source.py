"""A table of one file or of several, typed: each file by its own headers, units, decimal marks and order of dates."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import polars as pl

from draincurve.pipeline.reading.cleaning.headers import match_header
from draincurve.pipeline.reading.cleaning.typed_table import typed_table
from draincurve.pipeline.reading.cleaning.working_table import SCHEMA, WorkingTable, found, together
from draincurve.pipeline.reading.sources.source_table import NO_TEXT, SourceTable
from draincurve.schemas.settings import Settings


def typed_source(source: SourceTable, settings: Settings, as_of: date) -> WorkingTable:
    """The table under the contract's names with typed values.

    Raises SourceError, naming the file, for headers that cannot be matched.
    """
    if not source.parts:
        typed = _with_no_text(typed_table(source, settings, as_of), source)
        return typed.with_typed(typed.typed.with_columns(pl.lit(None, pl.String).alias("_source")))
    parts = [_with_no_text(typed_table(part, settings, as_of), part) for part in source.parts]
    starts = [sum(part.raw.height for part in parts[:index]) for index in range(len(parts))]
    return WorkingTable(
        table=source.table,
        source=source.source,
        raw=pl.concat([_moved(part.raw, start) for part, start in zip(parts, starts, strict=True)], how="diagonal"),
        typed=pl.concat(
            [
                _moved(part.typed, start).with_columns(pl.lit(part.source, pl.String).alias("_source"))
                for part, start in zip(parts, starts, strict=True)
            ]
        ),
        findings=together([*_row_findings(parts, starts), _file_findings(parts)]),
    )


def _with_no_text(working: WorkingTable, source: SourceTable) -> WorkingTable:
    """Holds back rows with a cell of bytes in a column that is used; in any other column bytes do no harm."""
    if NO_TEXT not in source.frame.columns:
        return working
    bad = source.frame.with_row_index("_row").select("_row", pl.col(NO_TEXT).alias("name")).explode("name")
    headers = dict(zip(source.cell_columns, source.typed_headers, strict=True))
    pieces = []
    for name in bad.get_column("name").drop_nulls().unique(maintain_order=True):
        match = match_header(headers[name], source.table)
        if match is not None and match.column in working.raw.columns:
            rows = bad.filter(pl.col("name") == name)
            pieces.append(found(rows, match.column, "held back", "holds bytes, not text: write it as text"))
    return working.with_findings(*pieces)


def _moved(rows: pl.DataFrame, start: int) -> pl.DataFrame:
    """Rows counted on from those of the files before."""
    return rows.with_columns((pl.col("_row") + start).cast(pl.UInt32))


def _row_findings(parts: Sequence[WorkingTable], starts: Sequence[int]) -> list[pl.DataFrame]:
    """Findings about rows of all files."""
    return [
        part.findings.drop_nulls("row").with_columns((pl.col("row") + start).cast(pl.UInt32))
        for part, start in zip(parts, starts, strict=True)
    ]


def _file_findings(parts: Sequence[WorkingTable]) -> pl.DataFrame:
    """Findings about whole files: once each, naming the first file and how many more, where not all have it."""
    named = [
        part.findings.filter(pl.col("row").is_null()).with_columns(pl.lit(part.source).alias("file"))
        for part in parts
    ]
    same = ["column", "value", "kind", "message"]
    gathered = (
        pl.concat(named)
        .group_by(same, maintain_order=True)
        .agg(pl.col("file").first(), pl.col("file").n_unique().alias("files"))
    )
    where = (
        pl.when(pl.col("files") == len(parts))
        .then(pl.lit(""))
        .when(pl.col("files") == 1)
        .then(pl.format("{}: ", "file"))
        .otherwise(pl.format("{} and {} more: ", "file", pl.col("files") - 1))
    )
    return (
        gathered.with_columns((where + pl.col("message")).alias("message"), pl.lit(None, pl.UInt32).alias("row"))
        .select(SCHEMA.names())
        .cast(SCHEMA)
    )
