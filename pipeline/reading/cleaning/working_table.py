"""A table on its way from its file to its acceptance: cells as typed, their parsed values, and findings.

Every step of cleaning and validating takes a WorkingTable and returns another one, with other values or with more
findings. A finding is one reason about one row, or about the whole file. Its kind is "held back", which keeps the row
out, or "asked" or "note", which do not. Which rows are accepted follows from the findings alone, after all steps (see
accounting).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import polars as pl

from draincurve.schemas.checked_settings import toml_text

FindingKind = Literal["held back", "asked", "note"]
Text = str | pl.Expr

FINDINGS_SCHEMA = pl.Schema(
    {"row": pl.UInt32} | dict.fromkeys(("column", "value", "kind", "message", "proposal", "setting"), pl.String)
)
"""row counts the table's rows from 0 and is null for the whole file; value is the cell as typed.

proposal : what the cell may have meant, as it would be typed, e.g. "12.5"; null where nothing can be proposed
setting : lines for the settings file that answer the finding, e.g. '[words.unit_id]\\n"FO1" = "F01"'; else null
"""

NO_FINDINGS = pl.DataFrame(schema=FINDINGS_SCHEMA)

_LONG_QUOTATION = r"'([^']{36})[^']{5,}'"
"""A name over 40 letters in a message, which is cut so that the message stays within two lines."""

OWN_COLUMNS = ("_row", "_line", "_source")
"""Columns that say where a row comes from; `_row` identifies it, since files of one table may share a line."""


@dataclass(frozen=True, slots=True)
class WorkingTable:
    """One table on its way.

    raw : `_row`, `_line` and the cells as typed, under the contract's names
    parsed : `_row`, `_line`, `_source` (the file of the row, null where the table has only one) and the values, same
        rows in the same order; every column of the contract is there, null where the file has none
    findings : FINDINGS_SCHEMA, one line for each
    headers : header as typed of each column that the file has; of several files, that of the first
    titles : lines above the header or among the rows that are no rows
    similar_units : units that may be one with another name, until somebody says; similar_pairs : both names, by
        column of names
    units_in_one_cell : the units that a cell names, where it names several; people_in_one_cell : the same of the
        columns of people, by column
    """

    table: str
    source: str
    raw: pl.DataFrame
    parsed: pl.DataFrame
    findings: pl.DataFrame
    headers: Mapping[str, str] = field(default_factory=dict)
    titles: tuple[str, ...] = ()
    similar_units: frozenset[str] = frozenset()
    similar_pairs: Mapping[str, tuple[tuple[str, str], ...]] = field(default_factory=dict)
    units_in_one_cell: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    people_in_one_cell: Mapping[str, Mapping[str, tuple[str, ...]]] = field(default_factory=dict)

    def with_findings(self, *pieces: pl.DataFrame) -> WorkingTable:
        """The same table with more findings."""
        return replace(self, findings=joined_findings([self.findings, *pieces]))

    def with_parsed(self, parsed: pl.DataFrame) -> WorkingTable:
        """The same table with other values."""
        return replace(self, parsed=parsed)

    def parsed_where(self, rows: pl.Expr, *columns: str | pl.Expr) -> pl.DataFrame:
        """Parsed columns of some rows. Only the columns that are needed are looked at: a log has many."""
        return self.parsed.lazy().filter(rows).select(*columns).collect()

    def about_rows(
        self,
        rows: pl.DataFrame,
        column: str,
        *,
        kind: FindingKind,
        message: Text,
        proposal: Text | None = None,
        setting: Text | None = None,
    ) -> pl.DataFrame:
        """A finding about one cell of each given row; its value is the cell as typed, null where the file has none.

        rows : has `_row` and the columns that the texts refer to, but not `column`
        """
        if rows.height and column in self.raw.columns:
            rows = rows.join(self.raw.select("_row", column), on="_row", how="left", maintain_order="left")
        return row_findings(rows, column, kind=kind, message=message, proposal=proposal, setting=setting)

    def source_of_row(self, column: str = "_source") -> pl.Expr:
        """The file of each row: the table's own where it has only one."""
        return pl.col(column).fill_null(self.source)

    @property
    def held_back_rows(self) -> pl.Series:
        """Rows that at least one finding holds back."""
        held = (pl.col("kind") == "held back") & pl.col("row").is_not_null()
        return self.findings.select(pl.col("row").filter(held).unique()).to_series()

    @property
    def is_held_back(self) -> pl.Expr:
        """Whether a row of `raw` or `parsed` is held back."""
        return pl.col("_row").is_in(self.held_back_rows.implode())

    @property
    def is_uneven(self) -> pl.Expr:
        """Whether a row of `raw` or `parsed` does not fit the header: its finding names no column."""
        uneven = (pl.col("kind") == "held back") & (pl.col("column") == "")
        rows = self.findings.select(pl.col("row").filter(uneven).drop_nulls().implode())
        return pl.col("_row").is_in(rows.to_series())


def line_label() -> pl.Expr:
    """A row's line as messages name it: its number, and the file too where the table has several."""
    line = pl.col("_line").cast(pl.String)
    return pl.when(pl.col("_source").is_null()).then(line).otherwise(pl.format("{} of {}", "_line", "_source"))


def row_findings(
    rows: pl.DataFrame,
    column: str,
    *,
    kind: FindingKind,
    message: Text,
    proposal: Text | None = None,
    setting: Text | None = None,
) -> pl.DataFrame:
    """A finding about one column of each given row.

    rows : has `_row`, `column` for the finding's value (else null), and the columns that the texts refer to
    message, proposal, setting : as in FINDINGS_SCHEMA, one text for all rows or an expression
    """
    if rows.is_empty():
        return NO_FINDINGS
    value = pl.col(column).cast(pl.String) if column in rows.columns else pl.lit(None, pl.String)
    texts = {"message": message, "proposal": proposal, "setting": setting}
    return rows.select(
        pl.col("_row").cast(pl.UInt32).alias("row"),
        pl.lit(column).alias("column"),
        value.alias("value"),
        pl.lit(kind).alias("kind"),
        *[
            (text if isinstance(text, pl.Expr) else pl.lit(text)).cast(pl.String).alias(name)
            for name, text in texts.items()
        ],
    ).with_columns(pl.col("message").str.replace_all(_LONG_QUOTATION, "'${1}…'"))


def file_finding(
    column: str | None, value: str | None, *, kind: FindingKind, message: str, setting: str | None = None
) -> pl.DataFrame:
    """A finding about the whole file."""
    row = (None, column, value, kind, re.sub(_LONG_QUOTATION, r"'\1…'", message), None, setting)
    return pl.DataFrame([row], schema=FINDINGS_SCHEMA, orient="row")


def words_setting(column: str, word: str, meaning: str, *, remark: str | None = None) -> str:
    """Lines for the settings that say what a word in a column is read as; remark : behind it, for who edits it."""
    behind = f"  # {remark}" if remark else ""
    return f"[words.{column}]\n{toml_text(word)} = {toml_text(meaning)}{behind}"


def joined_findings(pieces: Iterable[pl.DataFrame]) -> pl.DataFrame:
    """All findings in one table, which may be empty."""
    return pl.concat([NO_FINDINGS, *(piece for piece in pieces if piece.height)])
