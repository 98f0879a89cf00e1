"""A table of one file or several, parsed: each file by its own headers, units, decimal marks and order of dates."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

import polars as pl

from draincurve.pipeline.reading.cleaning.headers import MatchedTable, matched_table
from draincurve.pipeline.reading.cleaning.marked_cells import mark_findings
from draincurve.pipeline.reading.cleaning.note_corrections import correction_findings
from draincurve.pipeline.reading.cleaning.note_signs import note_signs
from draincurve.pipeline.reading.cleaning.parsed_columns import parsed_columns
from draincurve.pipeline.reading.cleaning.row_kinds import lines_that_are_no_rows
from draincurve.pipeline.reading.cleaning.table_habits import names_for_rows_below, questions_about_titles, titles_of
from draincurve.pipeline.reading.cleaning.titled_parts import questions_about_parts
from draincurve.pipeline.reading.cleaning.titles_of_units import with_titles_as_units
from draincurve.pipeline.reading.cleaning.void_rows import void_findings
from draincurve.pipeline.reading.cleaning.working_table import (
    FINDINGS_SCHEMA,
    WorkingTable,
    file_finding,
    joined_findings,
    row_findings,
)
from draincurve.pipeline.reading.sources.header_row import is_like_a_drain
from draincurve.pipeline.reading.sources.source_table import FAULT, LINE, NO_TEXT, SourceTable
from draincurve.schemas.errors import HeaderError
from draincurve.schemas.settings import Settings

SHIFTED = "^(?:the row has |looks like a decimal comma)"
"""How the faults of rows begin whose cells are not under their headings."""
HOLDS_BYTES = "holds bytes, not text: write it as text"
"""Why a row is held back whose database has bytes in a column that is used."""


def parsed_table(source: SourceTable, settings: Settings, *, as_of: date) -> WorkingTable:
    """The table under the contract's names with parsed values, and all that its cells and headers gave rise to.

    Raises HeaderError, naming the file, for headers that cannot be matched. Of several files or sheets, those whose
    headers cannot be matched are held back, unless all are.
    """
    if not source.parts:
        parsed = _parsed_file(source, settings, as_of=as_of)
        return parsed.with_parsed(parsed.parsed.with_columns(pl.lit(None, pl.String).alias("_source")))
    parts = _parsed_parts(source.parts, settings, as_of=as_of)
    starts = [sum(part.raw.height for part in parts[:index]) for index in range(len(parts))]
    numbered = list(zip(parts, starts, strict=True))
    row_findings = [_moved(part.findings.drop_nulls("row"), start, column="row") for part, start in numbered]
    return WorkingTable(
        table=source.table,
        source=source.source,
        raw=pl.concat([_moved(part.raw, start) for part, start in numbered], how="diagonal"),
        parsed=pl.concat(
            [
                _moved(part.parsed, start).with_columns(pl.lit(part.source, pl.String).alias("_source"))
                for part, start in numbered
            ]
        ),
        findings=joined_findings([*row_findings, *_notes(source), _file_findings(parts)]),
        headers=parts[0].headers,
        titles=tuple(title for part in parts for title in part.titles),
    )


def _parsed_parts(parts: Sequence[SourceTable], settings: Settings, *, as_of: date) -> list[WorkingTable]:
    """The tables of several files, in order."""
    parsed: dict[int, WorkingTable] = {}
    failed: dict[int, HeaderError] = {}
    for number, part in enumerate(parts):
        try:
            parsed[number] = _parsed_file(part, settings, as_of=as_of)
        except HeaderError as fault:
            failed[number] = fault
    if not parsed:
        raise failed[0]
    values = next(iter(parsed.values())).parsed
    for number, unmatched in failed.items():
        parsed[number] = _held_back_file(parts[number], unmatched, values=values.schema)
    return [parsed[number] for number in range(len(parts))]


def _held_back_file(source: SourceTable, fault: HeaderError, *, values: pl.Schema) -> WorkingTable:
    """The table of a file whose headers are not understood, all of whose rows are held back."""
    rows = source.frame.with_row_index("_row").select("_row", LINE)
    message, setting = f"the header is not understood, so no row below it is read: {fault.summary}", fault.setting
    if is_like_a_drain(source.typed_headers):
        message, setting = "the table has no header: put one above its first row, which is not read either", None
    findings = [*_notes(source), row_findings(rows, "", kind="held back", message=message, setting=setting)]
    empty = [pl.lit(None, dtype).alias(name) for name, dtype in values.items() if name not in rows.columns]
    parsed = rows.with_columns(empty).select(values.names())
    return WorkingTable(source.table, source.source, rows, parsed, joined_findings(findings), {})


def _parsed_file(source: SourceTable, settings: Settings, *, as_of: date) -> WorkingTable:
    """The table of one file."""
    source, unit_titles = with_titles_as_units(source, settings.headers)
    table = matched_table(source, settings.headers)
    no_rows = lines_that_are_no_rows(source, table, settings.headers, unit_titles=unit_titles)
    values, cell_findings = parsed_columns(_emptied(table, no_rows), settings, as_of=as_of)
    parsed = pl.concat([table.frame.select("_row", "_line"), values], how="horizontal")
    if source.table == "drains":
        signs, sign_findings = note_signs(parsed["note"], parsed, rows=parsed["_row"])
        corrections = correction_findings(parsed["note"], rows=parsed["_row"])
        parsed = pl.concat([parsed, signs], how="horizontal")
        cell_findings = [*cell_findings, *sign_findings, *corrections]
    titles = titles_of(source, no_rows)
    findings = [
        table.findings,
        *_notes(source),
        row_findings(no_rows.rename({"text": ""}), "", kind="held back", message=pl.col("reason")),
        *_uneven_rows(source, besides=no_rows),
        *names_for_rows_below(table, no_rows),
        *questions_about_titles(titles),
        *(questions_about_parts(parsed, no_rows, table.columns) if source.table == "drains" else []),
        *_of_cells_in_place(source, cell_findings),
        *_bytes(source, table.columns),
        *mark_findings(source, table.columns, no_rows=no_rows),
        *([void_findings(source, table.columns)] if source.table == "drains" else []),
    ]
    headers = {column: name for name, column in table.columns.items()}
    return WorkingTable(source.table, source.source, table.frame, parsed, joined_findings(findings), headers, titles)


def _notes(source: SourceTable) -> list[pl.DataFrame]:
    return [file_finding(None, None, kind="note", message=note) for note in source.notes]


def _emptied(table: MatchedTable, no_rows: pl.DataFrame) -> MatchedTable:
    """The table without the cells of lines that are no rows."""
    if not no_rows.height:
        return table
    here = pl.col("_row").is_in(no_rows["_row"].implode())
    cells = [pl.when(~here).then(pl.col(name)).alias(name) for name in dict.fromkeys(table.columns.values())]
    return replace(table, frame=table.frame.with_columns(cells))


def _uneven_rows(source: SourceTable, *, besides: pl.DataFrame) -> list[pl.DataFrame]:
    """Holds back rows that do not fit the header, besides the lines that are no rows."""
    if FAULT not in source.frame.columns:
        return []
    faults = source.frame.with_row_index("_row").filter(pl.col(FAULT).is_not_null())
    faults = faults.filter(~pl.col("_row").is_in(besides["_row"].implode()))
    return [row_findings(faults.select("_row", FAULT), "", kind="held back", message=pl.col(FAULT))]


def _of_cells_in_place(source: SourceTable, findings: list[pl.DataFrame]) -> list[pl.DataFrame]:
    """Findings about cells, without reasons of those that a row of another width has shifted: they mislead."""
    if FAULT not in source.frame.columns:
        return findings
    faults = source.frame.with_row_index("_row").select(pl.col("_row").filter(pl.col(FAULT).str.contains(SHIFTED)))
    shifted = (pl.col("kind") == "held back") & pl.col("row").is_in(faults.to_series().implode())
    return [found.filter(~shifted.fill_null(False)) for found in findings]


def _bytes(source: SourceTable, columns: Mapping[str, str]) -> list[pl.DataFrame]:
    """Holds back rows with bytes in a column that is used; in any other column bytes do no harm."""
    if NO_TEXT not in source.frame.columns:
        return []
    bad = source.frame.with_row_index("_row").select("_row", pl.col(NO_TEXT).alias("name")).explode("name")
    return [
        row_findings(bad.filter(pl.col("name") == name), columns[name], kind="held back", message=HOLDS_BYTES)
        for name in bad.get_column("name").drop_nulls().unique(maintain_order=True)
        if name in columns
    ]


def _moved(rows: pl.DataFrame, start: int, *, column: str = "_row") -> pl.DataFrame:
    """Rows numbered on from those of the files before."""
    return rows.with_columns((pl.col(column) + start).cast(pl.UInt32))


def _file_findings(parts: Sequence[WorkingTable]) -> pl.DataFrame:
    """Findings about whole files, each once; with the first file's name and how many more, where not all have it."""
    named = [
        part.findings.filter(pl.col("row").is_null()).with_columns(pl.lit(part.source).alias("file"))
        for part in parts
    ]
    same = ["column", "value", "kind", "message", "proposal", "setting"]
    gathered = (
        pl.concat(named)
        .group_by(same, maintain_order=True)
        .agg(pl.col("file").first(), pl.col("file").n_unique().alias("files"))
    )
    where = (
        pl.when(pl.col("files") == len(parts))
        .then(pl.lit(""))
        .when(pl.col("files") == 1)
        .then(pl.format("{}: ", "file"))
        .otherwise(pl.format("{} and {} more: ", "file", pl.col("files") - 1))
    )
    return (
        gathered.with_columns((where + pl.col("message")).alias("message"), pl.lit(None, pl.UInt32).alias("row"))
        .select(FINDINGS_SCHEMA.names())
        .cast(FINDINGS_SCHEMA)
    )
