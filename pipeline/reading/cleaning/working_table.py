"""A table between its file and its acceptance: cells as typed, typed values beside them, and findings.

Every step of cleaning and validating takes a WorkingTable and returns a new one: with other values, or with more
findings. A finding is one reason about one row, or about the whole file: "held back" keeps the row out, "asked" and
"note" do not. Which rows are accepted follows from the findings alone, at the end (see accounting).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

import polars as pl

Verdict = Literal["held back", "asked", "note"]

SCHEMA = pl.Schema(
    {"row": pl.UInt32, "column": pl.String, "value": pl.String, "kind": pl.String, "message": pl.String}
)
"""row counts the table's rows from 0 and is null for the whole file; value is the cell as typed."""

OWN_COLUMNS = ("_row", "_line", "_source")
"""Columns of a row's place; `_row` tells rows apart, since two files of one table may have the same line."""


@dataclass(frozen=True, slots=True)
class WorkingTable:
    """One table on its way.

    raw : `_row`, `_line` and the cells as typed, under the contract's names
    typed : `_row`, `_line`, `_source` (the file of the row, null where the table has only one) and the values after
        cleaning, same rows in the same order; every column of the contract is there, null where the file has none
    findings : see draincurve.pipeline.reading.cleaning.working_table
    """

    table: str
    source: str
    raw: pl.DataFrame
    typed: pl.DataFrame
    findings: pl.DataFrame

    def with_findings(self, *pieces: pl.DataFrame) -> WorkingTable:
        """The same table with more findings."""
        return replace(self, findings=together([self.findings, *pieces]))

    def with_typed(self, typed: pl.DataFrame) -> WorkingTable:
        """The same table with other values."""
        return replace(self, typed=typed)

    @property
    def uneven_rows(self) -> pl.Series:
        """Rows that do not fit the header: their finding names no column."""
        uneven = self.findings.filter((pl.col("kind") == "held back") & (pl.col("column") == ""))
        return uneven.get_column("row").drop_nulls()

    @property
    def held_rows(self) -> pl.Series:
        """Rows that some finding holds back."""
        held = self.findings.filter((pl.col("kind") == "held back") & pl.col("row").is_not_null())
        return held.get_column("row").unique()


def line_words() -> pl.Expr:
    """A row's line as a message names it: its number, and the file too where the table has several."""
    line = pl.col("_line").cast(pl.String)
    return pl.when(pl.col("_source").is_null()).then(line).otherwise(pl.format("{} of {}", "_line", "_source"))


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
