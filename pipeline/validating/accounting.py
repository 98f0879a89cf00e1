"""Every row in exactly one place: accepted, or held back with all its reasons."""

from __future__ import annotations

import polars as pl

from pipeline.cleaning.flags import SIGNS
from pipeline.cleaning.working_table import OWN_COLUMNS, WorkingTable
from pipeline.plan_result import TableAccount
from pipeline.sources.source_table import LINE, SURPLUS, SourceTable
from schemas.errors import ContractError

HELD_BACK_SCHEMA = pl.Schema(
    {
        "table": pl.String,
        "source": pl.String,
        "line": pl.Int64,
        "column": pl.String,
        "value": pl.String,
        "reason": pl.String,
        "row": pl.String,
    }
)
REMARKS_SCHEMA = pl.Schema(
    {
        "source": pl.String,
        "line": pl.Int64,
        "column": pl.String,
        "value": pl.String,
        "kind": pl.String,
        "message": pl.String,
    }
)


def accepted_rows(working: WorkingTable) -> pl.DataFrame:
    """Typed rows that nothing holds back, with `source` and `line`."""
    kept = working.typed.filter(~pl.col("_row").is_in(working.held_rows.implode()))
    place = {"source": _source(working), "line": pl.col("_line").cast(pl.Int64)}
    own = {"drain_source": _source(working, "drain_source")} if "drain_source" in kept.columns else {}
    return kept.with_columns(**place, **own).drop(OWN_COLUMNS)


def _source(working: WorkingTable, column: str = "_source") -> pl.Expr:
    """The file of each row, which is the table's own where it has only one."""
    return pl.col(column).fill_null(working.source)


def legible_parts(working: WorkingTable) -> pl.DataFrame:
    """Typed cells of rows that are held back and name a unit; rows that do not fit the header are no help."""
    held = pl.col("_row").is_in(working.held_rows.implode()) & ~pl.col("_row").is_in(working.uneven_rows.implode())
    rows = working.typed.filter(held).drop(OWN_COLUMNS)
    return rows.drop_nulls("unit_key") if "unit_key" in rows.columns else rows


def held_back_rows(working: WorkingTable, source: SourceTable) -> pl.DataFrame:
    """One line for each row that is held back.

    Several reasons stand in one cell, joined by "; ", with their columns and values in the same order. `row` is the
    row as it came, as JSON of the cells under their headers.
    """
    reasons = (
        working.findings.filter((pl.col("kind") == "held back") & pl.col("row").is_not_null())
        .unique(["row", "column", "message"], keep="first", maintain_order=True)
        .group_by("row", maintain_order=True)
        .agg(
            pl.col("column").str.join("; "),
            pl.col("value").fill_null("").str.join("; "),
            pl.col("message").str.join("; ").alias("reason"),
        )
    )
    came = _as_they_came(source, reasons.get_column("row"))
    return (
        reasons.join(came, on="row", how="left")
        .sort("row")
        .select(
            pl.lit(working.table).alias("table"),
            "source",
            "line",
            "column",
            "value",
            "reason",
            pl.col("cells").alias("row"),
        )
        .cast(HELD_BACK_SCHEMA)
    )


def _as_they_came(source: SourceTable, wanted: pl.Series) -> pl.DataFrame:
    """Rows of the table, by number: row, source, line, and the cells under the headers of their own file as JSON."""
    pieces = [pl.DataFrame(schema={"row": pl.UInt32, "source": pl.String, "line": pl.Int64, "cells": pl.String})]
    start = 0
    for part in source.parts or (source,):
        cells = part.frame.with_row_index("row", offset=start).cast({"row": pl.UInt32})
        shown = [pl.col(name) for name in part.cell_columns]
        if SURPLUS in cells.columns:
            shown.append(pl.col(SURPLUS).alias("cells past the header"))
        pieces.append(
            cells.filter(pl.col("row").is_in(wanted.implode())).select(
                "row",
                pl.lit(part.source).alias("source"),
                pl.col(LINE).cast(pl.Int64).alias("line"),
                pl.struct(shown).struct.json_encode().alias("cells"),
            )
        )
        start += part.frame.height
    return pl.concat(pieces)


def remarks_of(working: WorkingTable) -> pl.DataFrame:
    """Questions and notes on rows that were accepted and on the file as a whole, questions first.

    Signs that call for a look now are shown for rows held back too: a bad rating does not stop a leak.
    """
    places = working.typed.select(
        pl.col("_row").cast(pl.UInt32).alias("row"), pl.col("_source"), pl.col("_line").alias("line")
    )
    kept = working.findings.filter(
        (pl.col("kind") != "held back")
        & (
            pl.col("row").is_null()
            | ~pl.col("row").is_in(working.held_rows.implode())
            | ((pl.col("kind") == "asked") & pl.col("column").is_in(SIGNS))
        )
    )
    return (
        kept.join(places, on="row", how="left", maintain_order="left")
        .with_columns(_source(working).alias("source"))
        .sort("kind", "source", "line", maintain_order=True, nulls_last=False)
        .select(REMARKS_SCHEMA.names())
        .cast(REMARKS_SCHEMA)
    )


def account(source: SourceTable, accepted: pl.DataFrame, held_back: pl.DataFrame) -> TableAccount:
    """The row accounting of a table; raises ContractError unless read = accepted + held back, each line once."""
    read = source.frame.height
    places = pl.concat([accepted.select("source", "line"), held_back.select("source", "line")])
    if accepted.height + held_back.height != read or places.n_unique() != read:
        raise ContractError(
            f"{source.source}: {read} rows read, but {accepted.height} accepted and {held_back.height} held back: "
            "a fault of the program; please report it with the file"
        )
    return TableAccount(source.table, source.source, source.sha256, read, accepted.height, held_back.height)
