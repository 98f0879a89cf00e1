"""A table between reading and validation: cells as typed, typed values beside them, and what was found."""

from __future__ import annotations

from dataclasses import dataclass, replace

import polars as pl

from pipeline.cleaning.findings import together


@dataclass(frozen=True, slots=True)
class WorkingTable:
    """One table on its way.

    raw : `_row`, `_line` and the cells as typed, under the contract's names
    typed : `_row`, `_line` and the values after cleaning, same rows in the same order; every column of the
        contract is there, null where the file has none
    findings : see pipeline.cleaning.findings
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

    def rows_as_typed(self, typed: pl.DataFrame) -> pl.DataFrame:
        """Rows of `typed` (any selection with `_row`) as numbers 'now_<column>' beside their cells as typed."""
        values = typed.rename({name: f"now_{name}" for name in typed.columns if name != "_row"})
        return values.join(self.raw, on="_row", how="left", maintain_order="left")

    @property
    def held_rows(self) -> pl.Series:
        """Rows that some finding holds back."""
        held = self.findings.filter((pl.col("kind") == "held back") & pl.col("row").is_not_null())
        return held.get_column("row").unique()
