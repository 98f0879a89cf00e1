"""Cells that carry a mark beside their value: a comment, a line through it, or one cell merged over several columns.

A mark may mean that the value is wrong. Until its writer has answered, such a value only counts where that shortens
intervals; a row that is struck through as a whole is held back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import FindingKind, WorkingTable, row_findings
from draincurve.pipeline.reading.sources.cell_marks import COMMENT, MERGED, STRUCK, STRUCK_ROW
from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.schemas.channels import CHANNELS, RATING_HIGH, RATING_LOW
from draincurve.schemas.columns import TABLES

LONGEST_COMMENT = 100
"""Letters of a comment that a reason quotes."""
_COMMENT_ASKED, _STRUCK, _IN_PART = "comment on the cell", "struck through", "struck through in part"
_MERGED = "merged with '"
_DOUBTFUL = tuple(f"{words}: " for words in (_COMMENT_ASKED, _STRUCK, _IN_PART))
"""First words of the questions in whose rows a value is in doubt."""
_HOURS = ("oil_hours", "meter_hours")
_UNKNOWN_IN_DOUBT = ("meter_hours", "spring_hours", "settle_hours", "filled_ml", "drained_ml")
_UNKNOWN_IF_STRUCK = ("hours", "component_hours", "rebuilt_on")
"""Columns without which a row is still read, and whose absence never lengthens an interval."""


def mark_findings(source: SourceTable, columns: Mapping[str, str], *, no_rows: pl.DataFrame) -> list[pl.DataFrame]:
    """Findings about the marks of a table.

    columns : column of each header that is used. no_rows : lines that are no rows, by `_row`; nothing is asked there
    """
    if source.marks is None:
        return []
    used = pl.DataFrame({"name": list(columns), "column": list(columns.values())})
    rows = source.frame.select("_line").with_row_index("_row")
    marks = source.marks.join(used, on="name", maintain_order="left").join(rows, on="_line", maintain_order="left")
    marks = marks.filter(~pl.col("_row").is_in(no_rows["_row"].implode()))
    return [_findings(of_cells, source) for of_cells in marks.partition_by("column", "mark", maintain_order=True)]


def _findings(marks: pl.DataFrame, source: SourceTable) -> pl.DataFrame:
    """Findings about marks of one kind in one column."""
    column, mark = marks.item(0, "column"), marks.item(0, "mark")
    definition = next(candidate for candidate in TABLES[source.table] if candidate.name == column)
    needed = definition.required and (definition.kind == "date" or column in ("unit_id", "value"))
    confirm = ", or keep it: yes in a column headed confirmed" if source.table == "drains" else ""
    kind: FindingKind = "asked"
    message: str | pl.Expr
    if mark == STRUCK_ROW:
        kind, message = "held back", "the row is struck through: delete it, or remove the line through it"
    elif mark == MERGED:
        message = pl.format(_MERGED + "{}', whose value counts there alone: type a value of its own", "text")
    elif mark == COMMENT:
        comment = pl.col("text").str.slice(0, LONGEST_COMMENT)
        if definition.kind == "text" and column != "unit_id":
            kind, message = "note", pl.format("comment: {}", comment)
        else:
            answer = f"Correct the cell and delete the comment{confirm}"
            message = pl.format("{}: {}. {}", pl.lit(_COMMENT_ASKED), comment, pl.lit(answer))
    else:
        opening = _STRUCK if mark == STRUCK else _IN_PART
        kind = "held back" if needed else "asked"
        message = f"{opening}: what is valid? Type that alone, without a line{'' if needed else confirm}"
    name = marks.item(0, "name")
    values = source.frame.with_row_index("_row").select("_row", pl.col(name).alias(column))
    return row_findings(
        marks.join(values, on="_row", how="left", maintain_order="left"), column, kind=kind, message=message
    )


def rows_in_doubt(working: WorkingTable, column: str) -> pl.Series:
    """Rows whose cell in a column carries a mark that may mean another value, but for those that are confirmed."""
    asked = working.findings.filter(
        (pl.col("kind") == "asked") & (pl.col("column") == column) & _begins_with(*_DOUBTFUL)
    )
    rows = asked.get_column("row").drop_nulls().unique()
    if not rows.len() or "confirmed" not in working.parsed.columns:
        return rows
    confirmed = working.parsed_where(pl.col("confirmed").fill_null(False), "_row").to_series()
    return rows.filter(~rows.is_in(confirmed.implode()))


def with_values_in_doubt(working: WorkingTable) -> WorkingTable:
    """The table in which a marked value says no more than is safe.

    A rating may be any from itself up to the worst, a volume, reading or settling time is unknown, and so are hours
    of a ride that are struck through. Hours on the oil are asked about later (see validating.hours_questions).
    """
    if not working.findings.select(_begins_with(*_DOUBTFUL).any()).item():
        return working
    names = _UNKNOWN_IN_DOUBT if working.table == "drains" else _UNKNOWN_IF_STRUCK
    values = [
        pl.when(~pl.col("_row").is_in(rows_in_doubt(working, name).implode())).then(pl.col(name)).alias(name)
        for name in names
        if name in working.parsed.columns
    ]
    for channel in CHANNELS if working.table == "drains" else ():
        doubt = pl.col("_row").is_in(rows_in_doubt(working, channel.rating).implode())
        low, high = pl.col(channel.low), pl.col(channel.high)
        unknown = doubt & (low == RATING_LOW)
        values += [
            pl.when(~unknown.fill_null(False)).then(low).alias(channel.low),
            pl.when(~doubt).then(high).when(low > RATING_LOW).then(RATING_HIGH).alias(channel.high),
        ]
    return working.with_parsed(working.parsed.with_columns(values))


def with_marks_of_held_back(working: WorkingTable) -> WorkingTable:
    """The table in which a mark is one of the reasons of a row that is held back: it may say why a cell is empty."""
    here = (pl.col("kind") == "asked") & _begins_with(*_DOUBTFUL, _MERGED)
    if not working.findings.select(here.any()).item():
        return working
    held = (here & pl.col("row").is_in(working.held_back_rows.implode())).fill_null(False)
    kind = pl.when(held).then(pl.lit("held back")).otherwise(pl.col("kind")).alias("kind")
    return replace(working, findings=working.findings.with_columns(kind))


def _begins_with(*openings: str) -> pl.Expr:
    return pl.any_horizontal(pl.col("message").str.starts_with(opening) for opening in openings)
