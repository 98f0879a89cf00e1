"""Workbooks with a sheet for each unit, whose name is the unit: F01, F02 and so on, and no column for it."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import replace

import polars as pl

from draincurve.pipeline.reading.sources.header_row import HeaderRow
from draincurve.pipeline.reading.sources.reading_options import ReadingOptions
from draincurve.pipeline.reading.sources.sheet_cells import SheetCells
from draincurve.schemas.channels import CHANNELS

HEADER = "Unit"
"""Header of the column that holds the name of the sheet."""
NOTE = "no column for the unit: the sheets' names are read as units, {}"
_MOST_SHOWN = 6
_NO_UNIT = re.compile(
    r"\D*|(?:\D*\b)?(?:19|20)\d\d\b.*|\d{1,2}[-./]\d{2}"
    r"|(?:sheet|tabelle|blatt|feuille?|hoja|foglio|table|page|q|week|kw|season|saison|copy) ?\d+|.*\(\d+\)"
    r"|(?:jan|feb|f[ée]v|m[aä]r|a[pv]r|ma[iy]|mag|ju[nil]|giu|lug|a[ugo]|sep|set|o[ckt]t|nov|d[eéi][ckz]|gen|ene)[^\W\d]*\W*\d\d",
    re.IGNORECASE,
)
"""Names of sheets that may be no unit's: without a number, times, and what a program calls a new sheet."""


def with_names_as_units(sheets: Sequence[SheetCells], options: ReadingOptions) -> list[SheetCells] | None:
    """The sheets of a workbook in which each log has one unit, with a column for it; None for any other workbook.

    At least two sheets have all that a log needs but the unit, and a name that may be a unit's.
    """
    headers = {sheet.name: sheet.header("drains", options) for sheet in sheets}
    logs = [sheet for sheet in sheets if lacks_only_the_unit(headers[sheet.name].columns)]
    may_be = len(logs) > 1 and all(may_be_a_unit(sheet.name) for sheet in logs)
    if not may_be or any(header.is_of_a_log for header in headers.values()):
        return None
    return [_with_unit(sheet, headers[sheet.name]) for sheet in logs]


def note(sheets: Sequence[SheetCells]) -> str:
    """What is assumed of such a workbook."""
    names = [f"'{sheet.name}'" for sheet in sheets]
    more = f" and {len(names) - _MOST_SHOWN} more" if len(names) > _MOST_SHOWN else ""
    return NOTE.format(", ".join(names[:_MOST_SHOWN]) + more)


def may_be_a_unit(name: str) -> bool:
    """Whether the name of a sheet, or a title, may be a unit's."""
    return _NO_UNIT.fullmatch(name.strip()) is None


def lacks_only_the_unit(columns: Collection[str | None]) -> bool:
    """Whether columns of drains are those of a log, but for the unit."""
    ratings = {channel.rating for channel in CHANNELS}
    clocks = {"oil_hours", "meter_hours"}
    return (
        "unit_id" not in columns
        and "drained_on" in columns
        and not ratings.isdisjoint(columns)
        and not clocks.isdisjoint(columns)
    )


def _with_unit(sheet: SheetCells, header: HeaderRow) -> SheetCells:
    """The sheet with its name behind each row, so that no other column moves."""
    position = pl.int_range(pl.len())
    name = (
        pl.when(position == header.position)
        .then(pl.lit(HEADER))
        .when(position > header.position)
        .then(pl.lit(sheet.name))
    )
    return replace(sheet, rows=sheet.rows.with_columns(name.alias("name of the sheet")))
