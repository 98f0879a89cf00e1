"""Laboratory reports as they come: a wide table, one row a sample, made long, one row a value.

A column whose header names a measured quantity (Fe, water %, kv40, ISO code) holds values; every other column belongs
to the sample. A row of units below the header is read as the units of its columns. Rows of the long table keep the
line of their sample, and every value is a row of its own: it is accepted or held back by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import polars as pl

from draincurve.pipeline.reading.cleaning.header_meaning import match_header
from draincurve.pipeline.reading.cleaning.header_synonyms import squashed_header
from draincurve.pipeline.reading.cleaning.quantity_names import measured_header
from draincurve.pipeline.reading.cleaning.units_of_measurement import is_measurement_unit
from draincurve.pipeline.reading.cleaning.word_cells import is_blank
from draincurve.pipeline.reading.sources.several_files import joined
from draincurve.pipeline.reading.sources.source_table import FAULT, LINE, SourceTable
from draincurve.schemas.settings import Settings

UNIT_ROWS = 3
"""First rows below the header among which a row of units is looked for."""
EMPTY_SAMPLE = "the sample has no value: write one, or delete the row"
_ORDER = "_sample"


def with_long_samples(source: SourceTable, settings: Settings) -> SourceTable:
    """A table of measurements in which each value is a row; any other table, and a long one, as it is."""
    if source.table != "measurements":
        return source
    if not source.parts:
        return _long(source, settings)
    parts = tuple(_long(part, settings) for part in source.parts)
    if all(new is old for new, old in zip(parts, source.parts, strict=True)):
        return source
    return joined(source.source, parts, sha256=source.sha256, notes=source.notes)


def _long(source: SourceTable, settings: Settings) -> SourceTable:
    names, headers = source.cell_columns, source.typed_headers
    matches = [match_header(header, source.table, settings.headers) for header in headers]
    columns = [None if match is None else match.column for match in matches]
    values = [
        position
        for position, header in enumerate(headers)
        if columns[position] is None and measured_header(header, settings) is not None
    ]
    if not values or "value" in columns:
        return source
    kept = [position for position in range(len(names)) if position not in values]
    beside = [name for name in source.frame.columns if name not in source.cell_columns]
    frame = source.frame.with_columns(pl.col(names[position]).cast(pl.String) for position in range(len(names)))
    frame = frame.with_row_index(_ORDER)
    units_at, units = _row_of_units(
        frame, [names[position] for position in values], sample=_sample_columns(columns, names)
    )
    if units_at is not None:
        frame = frame.filter(pl.col(_ORDER) != units_at)
    pieces = [
        frame.select(
            _ORDER,
            *[names[position] for position in kept],
            pl.lit(headers[position].strip()).alias("quantity"),
            pl.col(names[position]).alias("value"),
            pl.lit(units.get(names[position]), pl.String).alias("unit"),
            *beside,
        )
        for position in values
    ]
    long = _with_empty_samples(
        pl.concat(pieces).filter(_filled("value")), frame, values=[names[position] for position in values]
    )
    long = long.sort(_ORDER, maintain_order=True).drop(_ORDER)
    return replace(
        source,
        frame=long,
        headers=(*_sample_headers(headers, columns, kept), "quantity", "value", "unit"),
        notes=(*source.notes, *_notes(long, source.frame, units_at)),
        marks=_moved_marks(source, names, kept),
        line_has_rows=True,
    )


def _filled(name: str) -> pl.Expr:
    """Whether a cell holds more than a word for nothing known, such as n/a."""
    return pl.col(name).map_elements(lambda cell: not is_blank(cell), return_dtype=pl.Boolean).fill_null(False)


def _sample_columns(columns: Sequence[str | None], names: Sequence[str]) -> list[str]:
    return [name for name, column in zip(names, columns, strict=True) if column in ("unit_id", "measured_on", "unit")]


def _row_of_units(
    frame: pl.DataFrame, values: Sequence[str], *, sample: Sequence[str]
) -> tuple[int | None, dict[str, str]]:
    """Number of the row that holds the units of the columns, and these; None and nothing without such a row."""
    for row in frame.head(UNIT_ROWS).iter_rows(named=True):
        cells = {name: row[name].strip() for name in values if row[name] is not None and row[name].strip()}
        here = [row[name] for name in sample if row[name] is not None and not is_blank(row[name])]
        if cells and not here and all(is_measurement_unit(cell) for cell in cells.values()):
            return row[_ORDER], {name: cell for name, cell in cells.items() if not is_blank(cell)}
    return None, {}


def _with_empty_samples(long: pl.DataFrame, frame: pl.DataFrame, *, values: Sequence[str]) -> pl.DataFrame:
    """The long table with one row, held back, for each sample that has no value or does not fit the header."""
    fault = pl.col(FAULT) if FAULT in frame.columns else pl.lit(None, pl.String)
    left = frame.filter(fault.is_not_null() | ~pl.any_horizontal(_filled(name) for name in values))
    if FAULT in frame.columns:
        long = long.filter(pl.col(FAULT).is_null())
    if not left.height:
        return long
    empty = left.with_columns(
        *(pl.lit(None, pl.String).alias(name) for name in ("quantity", "value", "unit")),
        fault.fill_null(EMPTY_SAMPLE).alias(FAULT),
    )
    shared = [name for name in long.columns if name != FAULT]
    return pl.concat([long, empty.select(*shared, FAULT)], how="diagonal")


def _sample_headers(headers: Sequence[str], columns: Sequence[str | None], kept: Sequence[int]) -> list[str]:
    """Headers of the sample's columns. A column Unit is the unit that was sampled, where no other one is."""
    is_free = "unit_id" not in columns
    return [
        "unit_id"
        if is_free and columns[position] == "unit" and squashed_header(headers[position]) == "unit"
        else headers[position]
        for position in kept
    ]


def _notes(long: pl.DataFrame, read: pl.DataFrame, units_at: int | None) -> list[str]:
    notes = [f"each row is a sample; each value of a sample counts as a row, {long.height} in all"]
    if units_at is not None:
        notes.append(f"line {read[LINE][units_at]} holds the units of the columns")
    return notes


def _moved_marks(source: SourceTable, names: Sequence[str], kept: Sequence[int]) -> pl.DataFrame | None:
    """Marks on a value count for every value of its sample."""
    if source.marks is None:
        return None
    sample = [names[position] for position in kept]
    return source.marks.with_columns(
        pl.when(pl.col("name").is_in(sample)).then("name").otherwise(pl.lit("value")).alias("name")
    )
