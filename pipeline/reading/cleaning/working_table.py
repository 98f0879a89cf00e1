"""A table between reading and validation: cells as typed, typed values beside them, and what was found."""

from __future__ import annotations

from dataclasses import dataclass, replace

import polars as pl

from draincurve.pipeline.reading.cleaning.findings import together

OWN_COLUMNS = ("_row", "_line", "_source")
"""Columns of a row's place; `_row` tells rows apart, since two files of one table may have the same line."""


@dataclass(frozen=True, slots=True)
class WorkingTable:
    """One table on its way.

    raw : `_row`, `_line` and the cells as typed, under the contract's names
    typed : `_row`, `_line`, `_source` (the file of the row, null where the table has only one) and the values after
        cleaning, same rows in the same order; every column of the contract is there, null where the file has none
    findings : see draincurve.pipeline.reading.cleaning.findings
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
