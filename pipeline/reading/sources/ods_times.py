"""Times and durations in an ODS file, which the reader of values leaves out: its cells of type time, as 12:30."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator, Mapping
from xml.etree import ElementTree

import polars as pl

from draincurve.pipeline.reading.sources.bounds import MOST_MARKED_CELLS
from draincurve.pipeline.reading.sources.cell_marks import parsed_part

_CONTENT = "content.xml"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_CELLS = (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell")
_DURATION = re.compile(r"P(?:(\d+)D)?T(?:(\d+)H)?(?:(\d+)M)?(?:(\d+)(?:[.,]\d*)?S)?")

Times = Mapping[tuple[int, int], str]
"""Text of each cell that holds a time, by row and by column from the first one with a value, both counted from 0."""


def times_of_sheets(content: bytes) -> dict[str, Times]:
    """Times of each sheet of an ODS file; none of any other file. ValueError past the bound on cells.

    The format is that of OpenDocument 1.3, part 3, section 19.385: office:value-type and office:time-value.
    """
    if not zipfile.is_zipfile(io.BytesIO(content)):
        return {}
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        if _CONTENT not in archive.namelist():
            return {}
        root = parsed_part(archive, _CONTENT)
    return {sheet.get(f"{_TABLE}name", ""): _times(sheet) for sheet in root.iter(f"{_TABLE}table")}


def with_times(cells: pl.DataFrame, times: Times) -> pl.DataFrame:
    """The cells of a sheet with its times in place."""
    columns = {
        position: cells.to_series(position).to_list()
        for position in {column for _, column in times}
        if position < cells.width
    }
    for (row, column), text in times.items():
        if column in columns and row < cells.height:
            columns[column][row] = text
    return cells.with_columns(
        pl.Series(cells.columns[position], texts, pl.String) for position, texts in columns.items()
    )


def _times(sheet: ElementTree.Element) -> Times:
    times: dict[tuple[int, int], str] = {}
    first, row = None, 0
    for line in sheet.iter(f"{_TABLE}table-row"):
        rows = int(line.get(f"{_TABLE}number-rows-repeated", "1"))
        for column, columns, cell in _cells(line):
            kind = cell.get(f"{_OFFICE}value-type")
            if kind is None:
                continue
            first = column if first is None else min(first, column)
            text = _clock(cell.get(f"{_OFFICE}time-value", "")) if kind == "time" else None
            if text is None:
                continue
            if len(times) + rows * columns > MOST_MARKED_CELLS:
                raise ValueError(f"more than {MOST_MARKED_CELLS:,} cells hold times; save it as XLSX")
            times |= {(row + down, column + on): text for down in range(rows) for on in range(columns)}
        row += rows
    return {(row, column - (first or 0)): text for (row, column), text in times.items()}


def _cells(line: ElementTree.Element) -> Iterator[tuple[int, int, ElementTree.Element]]:
    """Column from 0, number of columns that it is repeated for, and the cell."""
    column = 0
    for cell in line:
        if cell.tag in _CELLS:
            repeated = int(cell.get(f"{_TABLE}number-columns-repeated", "1"))
            yield column, repeated, cell
            column += repeated


def _clock(duration: str) -> str | None:
    """PT12H30M00S as 12:30; seconds where there are any."""
    match = _DURATION.fullmatch(duration)
    if match is None:
        return None
    days, hours, minutes, seconds = (int(part or 0) for part in match.groups())
    return f"{24 * days + hours}:{minutes:02}" + (f":{seconds:02}" if seconds else "")
