"""What was found wrong or odd: one line for each reason, with its row, column and cell as typed."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

import polars as pl

Verdict = Literal["held back", "asked", "note"]

SCHEMA = pl.Schema(
    {"row": pl.UInt32, "column": pl.String, "value": pl.String, "kind": pl.String, "message": pl.String}
)
"""row counts the table's rows from 0 and is null for the whole file; value is the cell as typed."""


def no_findings() -> pl.DataFrame:
    """An empty table of findings."""
    return pl.DataFrame(schema=SCHEMA)


def found(rows: pl.DataFrame, column: str, kind: Verdict, message: str | pl.Expr) -> pl.DataFrame:
    """A finding for every given row.

    rows : has `_row`, the cells as typed under their column names, and whatever `message` refers to
    """
    value = pl.col(column).cast(pl.String) if column in rows.columns else pl.lit(None, pl.String)
    text = pl.lit(message) if isinstance(message, str) else message
    return rows.select(
        pl.col("_row").cast(pl.UInt32).alias("row"),
        pl.lit(column).alias("column"),
        value.alias("value"),
        pl.lit(kind).alias("kind"),
        text.cast(pl.String).alias("message"),
    )


def about_file(column: str | None, value: str | None, kind: Verdict, message: str) -> pl.DataFrame:
    """A finding about the whole file."""
    return pl.DataFrame([(None, column, value, kind, message)], schema=SCHEMA, orient="row")


def together(pieces: Iterable[pl.DataFrame]) -> pl.DataFrame:
    """All findings in one table."""
    return pl.concat([no_findings(), *pieces])
