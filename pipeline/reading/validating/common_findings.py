"""Findings of one kind, counted and shown by an example: what is wrong most often."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

MOST_COMMON = 3
"""How many kinds of findings are spelled out; the others are counted."""
_DIFFERING = r"'[^']*'|\"[^\"]*\"|\d+(?:[.,]\d+)*"
"""Numbers and quoted names, in which messages of one kind differ."""
_URGENT = "inspect"
"""A word of the messages that cannot wait; they come first however few they are."""


@dataclass(frozen=True, slots=True)
class CommonFinding:
    """Findings of one kind: how many there are, and the first of them.

    line, unit_id, day : of the first, None where the whole file is meant. proposal, setting : as in
    working_table.FINDINGS_SCHEMA
    """

    kind: str
    count: int
    source: str
    line: int | None
    unit_id: str | None
    day: str | None
    column: str | None
    value: str | None
    message: str
    proposal: str | None
    setting: str | None

    @property
    def urgent(self) -> bool:
        """Whether the unit is to be inspected."""
        return _URGENT in self.message


def common_findings(findings: pl.DataFrame) -> tuple[CommonFinding, ...]:
    """All kinds of findings: those that call for an inspection first, then the commonest.

    Findings are of one kind where they are about the same column and their messages differ only in numbers and in
    quoted names.  findings : as accounting.REMARKS_SCHEMA
    """
    example = [
        pl.col(name).first()
        for name in ("source", "line", "unit_id", "day", "value", "message", "proposal", "setting")
    ]
    kinds = (
        findings.with_columns(pl.col("message").str.replace_all(_DIFFERING, "").alias("_pattern"))
        .group_by("kind", "column", "_pattern", maintain_order=True)
        .agg(pl.len().alias("count"), *example)
        .drop("_pattern")
    )
    common = [CommonFinding(**cells) for cells in kinds.iter_rows(named=True)]
    return tuple(sorted(common, key=lambda kind: (not kind.urgent, -kind.count)))
