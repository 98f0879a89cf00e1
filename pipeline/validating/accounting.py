"""Every row in exactly one place: accepted, or held back with all its reasons."""

from __future__ import annotations

import polars as pl

from pipeline.cleaning.flags import SIGNS
from pipeline.cleaning.working_table import WorkingTable
from pipeline.plan_result import TableAccount
from pipeline.sources.source_table import FAULT, SURPLUS, SourceTable
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
    return kept.with_columns(
        pl.lit(working.source).alias("source"), pl.col("_line").cast(pl.Int64).alias("line")
    ).drop("_row", "_line")


def legible_parts(working: WorkingTable) -> pl.DataFrame:
    """Typed cells of rows that are held back and name a unit; rows that do not fit the header are no help."""
    held = pl.col("_row").is_in(working.held_rows.implode()) & ~pl.col("_row").is_in(working.uneven_rows.implode())
    rows = working.typed.filter(held).drop("_row", "_line")
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
    cells = source.frame.with_row_index("row").cast({"row": pl.UInt32})
    if SURPLUS in cells.columns:
        cells = cells.rename({SURPLUS: "cells past the header"})
    hidden = ["_line", FAULT, "row"]
    came = cells.join(reasons.select("row"), on="row", how="semi").select(
        "row",
        pl.col("_line").alias("line"),
        pl.struct([name for name in cells.columns if name not in hidden]).struct.json_encode().alias("cells"),
    )
    return (
        reasons.join(came, on="row", how="left")
        .sort("row")
        .select(
            pl.lit(working.table).alias("table"),
            pl.lit(working.source).alias("source"),
            "line",
            "column",
            "value",
            "reason",
            pl.col("cells").alias("row"),
        )
        .cast(HELD_BACK_SCHEMA)
    )


def remarks_of(working: WorkingTable) -> pl.DataFrame:
    """Questions and notes on rows that were accepted and on the file as a whole, questions first.

    Signs that call for a look now are shown for rows held back too: a bad rating does not stop a leak.
    """
    lines = working.typed.select(pl.col("_row").cast(pl.UInt32).alias("row"), pl.col("_line").alias("line"))
    kept = working.findings.filter(
        (pl.col("kind") != "held back")
        & (
            pl.col("row").is_null()
            | ~pl.col("row").is_in(working.held_rows.implode())
            | ((pl.col("kind") == "asked") & pl.col("column").is_in(SIGNS))
        )
    )
    return (
        kept.join(lines, on="row", how="left", maintain_order="left")
        .with_columns(pl.lit(working.source).alias("source"))
        .sort("kind", "line", maintain_order=True, nulls_last=False)
        .select(REMARKS_SCHEMA.names())
        .cast(REMARKS_SCHEMA)
    )


def account(source: SourceTable, accepted: pl.DataFrame, held_back: pl.DataFrame) -> TableAccount:
    """The row accounting of a table; raises ContractError unless read = accepted + held back, each line once."""
    read = source.frame.height
    lines = pl.concat([accepted.get_column("line"), held_back.get_column("line")])
    if accepted.height + held_back.height != read or lines.n_unique() != read:
        raise ContractError(
            f"{source.source}: {read} rows read, but {accepted.height} accepted and {held_back.height} held back: "
            "a fault of the program; please report it with the file"
        )
    return TableAccount(source.table, source.source, source.sha256, read, accepted.height, held_back.height)
