"""The row accounting: every row is either accepted or held back with all its reasons, and remarks on both."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from draincurve.pipeline.processing import EVERY_LOG
from draincurve.pipeline.reading.cleaning.row_kinds import NO_ROWS
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, joined_findings
from draincurve.pipeline.reading.sources.source_table import LINE, SURPLUS, SourceTable
from draincurve.schemas.columns import SIGNS, TABLES
from draincurve.schemas.errors import ContractError

HELD_BACK_SCHEMA = pl.Schema(
    {
        "table": pl.String,
        "source": pl.String,
        "line": pl.Int64,
        "column": pl.String,
        "value": pl.String,
        "reason": pl.String,
        "unit_id": pl.String,
        "day": pl.String,
        "row": pl.String,
    }
)
REMARKS_SCHEMA = pl.Schema(
    {
        "source": pl.String,
        "line": pl.Int64,
        "unit_id": pl.String,
        "day": pl.String,
        "column": pl.String,
        "value": pl.String,
        "kind": pl.String,
        "message": pl.String,
        "proposal": pl.String,
        "setting": pl.String,
    }
)
"""unit_id, day : what a row is about, as read or else as typed; null where it names none."""


@dataclass(frozen=True, slots=True)
class TableAccount:
    """Row accounting of one input table: read = accepted + held back, always.

    no_rows : how many of those held back are totals, titles or repeated headers, so no rows at all
    """

    table: str
    source: str
    sha256: str
    read: int
    accepted: int
    held_back: int
    no_rows: int = 0


def held_back_pieces(
    workings: Sequence[WorkingTable], source: SourceTable, *, piece_rows: int = EVERY_LOG.piece_rows
) -> Iterator[pl.DataFrame]:
    """One line for each row that is held back, in the order of the rows, in pieces; at least one piece.

    workings : the parts of one table. Several reasons of one row are joined by "; ", each once; so are their columns
    and values, in the same order. `row` is the row as read, as JSON of the cells under their headers.
    """
    yield pl.DataFrame(schema=HELD_BACK_SCHEMA)
    reasons = joined_findings(
        working.findings.filter((pl.col("kind") == "held back") & pl.col("row").is_not_null()) for working in workings
    )
    subjects = pl.concat(_subjects(working, reasons["row"]) for working in workings)
    start = 0
    for part in source.parts or (source,):
        for begin in range(0, part.frame.height if reasons.height else 0, piece_rows):
            first, cells = start + begin, part.frame.slice(begin, piece_rows)
            here = reasons.filter(pl.col("row").is_between(first, first + cells.height, closed="left"))
            if here.height:
                cells = cells.with_row_index("row", offset=first)
                yield _held_back(here, cells, subjects, source=part)
        start += part.frame.height


def _held_back(
    findings: pl.DataFrame, cells: pl.DataFrame, subjects: pl.DataFrame, *, source: SourceTable
) -> pl.DataFrame:
    """Rows of one file with their reasons.

    cells : rows of the file, with their numbers as `row`; subjects : as `_subjects` gives them
    """
    reasons = (
        findings.unique(["row", "column", "message"], keep="first", maintain_order=True)
        .group_by("row", maintain_order=True)
        .agg(
            pl.col("column").str.join("; "),
            pl.col("value").fill_null("").str.join("; "),
            pl.col("message").unique(maintain_order=True).str.join("; ").alias("reason"),
        )
    )
    shown = [pl.col(name).cast(pl.String) for name in source.cell_columns]
    if SURPLUS in cells.columns:
        shown.append(pl.col(SURPLUS).alias("cells past the header"))
    as_read = (
        cells.cast({"row": pl.UInt32})
        .filter(pl.col("row").is_in(reasons.get_column("row").implode()))
        .select("row", pl.col(LINE).alias("line"), pl.struct(shown).struct.json_encode().alias("cells"))
    )
    return (
        reasons.join(as_read, on="row", how="left")
        .join(subjects, on="row", how="left")
        .sort("row")
        .select(
            pl.lit(source.table).alias("table"),
            pl.lit(source.source).alias("source"),
            *("line", "column", "value", "reason", "unit_id", "day"),
            pl.col("cells").alias("row"),
        )
        .cast(HELD_BACK_SCHEMA)
    )


def remarks_of(working: WorkingTable) -> pl.DataFrame:
    """Questions and notes about accepted rows and about the whole file, questions first.

    Signs that call for an inspection are shown for rows held back too: a bad rating does not stop a leak.
    """
    kept = working.findings.filter(
        (pl.col("kind") != "held back")
        & (
            pl.col("row").is_null()
            | ~pl.col("row").is_in(working.held_back_rows.implode())
            | ((pl.col("kind") == "asked") & pl.col("column").is_in((*SIGNS, "note")))
        )
    )
    return _with_lines(kept, working).sort("kind", "source", "line", maintain_order=True, nulls_last=False)


def reasons_of(working: WorkingTable) -> pl.DataFrame:
    """Every reason for which a row is held back, one line for each cell, in the order of the rows."""
    held = working.findings.filter((pl.col("kind") == "held back") & pl.col("row").is_not_null())
    return _with_lines(held.sort("row", maintain_order=True).unique(maintain_order=True), working)


def _with_lines(findings: pl.DataFrame, working: WorkingTable) -> pl.DataFrame:
    """Findings with the file and the line of their rows, as REMARKS_SCHEMA."""
    origin = working.parsed.select(
        pl.col("_row").cast(pl.UInt32).alias("row"), pl.col("_source"), pl.col("_line").alias("line")
    )
    return (
        findings.join(origin, on="row", how="left", maintain_order="left")
        .join(_subjects(working, findings["row"]), on="row", how="left", maintain_order="left")
        .with_columns(working.source_of_row().alias("source"))
        .select(REMARKS_SCHEMA.names())
        .cast(REMARKS_SCHEMA)
    )


def _subjects(working: WorkingTable, rows: pl.Series) -> pl.DataFrame:
    """Columns row, unit_id and day: what some rows of a table are about, as read or else as typed."""
    wanted = rows.drop_nulls().unique()
    if wanted.is_empty():
        return pl.DataFrame(schema={"row": pl.UInt32, "unit_id": pl.String, "day": pl.String})
    day = next((column.name for column in TABLES[working.table] if column.kind == "date"), "")
    subjects = []
    for part in (working.parsed, working.raw):
        cells = [
            (pl.col(name) if name in part.columns else pl.lit(None)).cast(pl.String).alias(subject)
            for subject, name in (("unit_id", "unit_id"), ("day", day))
        ]
        subject_rows = part.lazy().select(pl.col("_row").cast(pl.UInt32).alias("row"), *cells)
        subjects.append(subject_rows.filter(pl.col("row").is_in(wanted.implode())))
    either = [pl.coalesce(subject, f"{subject}_typed").alias(subject) for subject in ("unit_id", "day")]
    return subjects[0].join(subjects[1], on="row", how="left", suffix="_typed").select("row", *either).collect()


def account(source: SourceTable, workings: Sequence[WorkingTable], *, accepted: int, held_back: int) -> TableAccount:
    """The row accounting of a table.

    workings : its parts. accepted, held_back : numbers of rows. Raises ContractError unless every line of a file is
    one row (of a laboratory's sample, one for each of its values), and every row read is in exactly one part and
    either accepted or held back.
    """
    read = source.frame.height
    seen = np.zeros(read, dtype=np.uint8)
    expected = 0
    for working in workings:
        seen[working.parsed["_row"].to_numpy()] += 1
        expected += working.held_back_rows.len()
    lines_once = all(
        part.line_has_rows or _each_once(part.frame.get_column(LINE)) for part in source.parts or (source,)
    )
    if not lines_once or not (seen == 1).all() or held_back != expected or accepted + held_back != read:
        raise ContractError(
            f"{source.source}: {read} rows read, but {accepted} accepted and {held_back} held back: "
            "a fault of the program; please report it with the file"
        )
    no_rows = sum(_lines_that_are_no_rows(working) for working in workings)
    return TableAccount(source.table, source.source, source.sha256, read, accepted, held_back, no_rows)


def _lines_that_are_no_rows(working: WorkingTable) -> int:
    about = working.findings.filter((pl.col("kind") == "held back") & pl.col("message").is_in(NO_ROWS))
    return about.get_column("row").n_unique()


def _each_once(lines: pl.Series) -> bool:
    return bool((lines.diff().drop_nulls() > 0).all()) or lines.n_unique() == lines.len()
