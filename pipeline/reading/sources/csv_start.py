"""The start of a CSV file: its encoding, its delimiter, and its header among the first records."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

import polars as pl

from draincurve.pipeline.reading.sources.bounds import LONGEST_RECORD_LINES, MOST_COLUMNS, refuse_many_columns
from draincurve.pipeline.reading.sources.csv_records import (
    Record,
    RecordForm,
    physical_lines,
    read_record,
    records_from,
)
from draincurve.pipeline.reading.sources.encodings import DecodedText, decoded_text
from draincurve.pipeline.reading.sources.header_row import (
    SEARCHED_ROWS,
    ColumnsOf,
    HeaderRow,
    header_row,
    title_notes,
)
from draincurve.pipeline.reading.sources.source_table import LineBeside, line_beside, longest_text
from draincurve.schemas.errors import SourceError

DELIMITERS = (",", ";", "\t")
SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}
"""What people part the cells of a row with, by its mark."""

_DECLARED = re.compile(rb"sep=([,;\t])(?=[\r\n]|\Z)", re.IGNORECASE)
_SNIFFED_RECORDS = 60
_RULE = re.compile(rb"^[ \t]*[|+][ \t:|+=-]*[-=][ \t:|+=-]*(?=\r?$)", re.MULTILINE)
_ENDS = re.compile(rb"^[ \t]*\|[ \t]*|[ \t]*\|[ \t]*(?=\r?$)", re.MULTILINE)
_BAR_AND_SPACES = re.compile(rb"[ \t]*\|[ \t]*")
_FEWEST_BARS = 3
"""Bars in a line of a file without delimiters, from which they are what parts its cells."""


@dataclass(frozen=True, slots=True)
class CsvStart:
    """The header of a file and what is above it.

    header : its cells. form : of the records below. line : on which the header starts
    not_rows : lines of the header and of `titles`. strays : lines above the header on which rows start
    """

    header: list[str]
    form: RecordForm
    line: int
    not_rows: tuple[int, ...]
    strays: tuple[int, ...]
    notes: tuple[str, ...]
    titles: tuple[LineBeside, ...] = ()


@dataclass(frozen=True, slots=True)
class OpenedCsv:
    """A CSV file as far as its header.

    encoded : all of it in UTF-8, without what only declares the delimiter. lines : its physical lines, shape (n,)
    """

    decoded: DecodedText
    encoded: bytes
    lines: pl.Series
    start: CsvStart


def opened_csv(content: bytes, path: Path, *, table: str, columns_of: ColumnsOf) -> OpenedCsv:
    """A CSV file as far as its header. Raises SourceError for an empty file, and for one that is no text.

    Cells may also be between bars, as in a table of plain text, with bars and spaces around it and lines of dashes.
    """
    decoded = decoded_text(content, path)
    declared = _DECLARED.match(decoded.utf8)
    encoded = decoded.utf8[declared.end(1) :] if declared else decoded.utf8
    lines = physical_lines(encoded)
    if not any(re.search(r'[^\s,;"]', line) for line in lines):
        raise SourceError(f"{path}: the file is empty; expected a header row and rows below it")
    _refuse_wide(lines, path)
    delimiters = (declared[1].decode(),) if declared else DELIMITERS
    start = _start(lines, delimiters, table=table, columns_of=columns_of)
    if (
        not declared
        and len(start.header) == 1
        and max(lines.head(SEARCHED_ROWS).str.count_matches("|", literal=True)) >= _FEWEST_BARS
    ):
        encoded = _without_frame(encoded)
        lines = physical_lines(encoded)
        start = _start(lines, ("|",), table=table, columns_of=columns_of)
    refuse_many_columns(start.form.needed, str(path))
    return OpenedCsv(decoded, encoded, lines, start)


def _most_bars(lines: pl.Series) -> int:
    return max(str(line).count("|") for line in lines.head(SEARCHED_ROWS))


def _without_frame(encoded: bytes) -> bytes:
    """Lines of cells between bars without what frames them: the same number of lines."""
    return _BAR_AND_SPACES.sub(b"|", _ENDS.sub(b"", _RULE.sub(b"", encoded)))


def _refuse_wide(lines: pl.Series, path: Path) -> None:
    """Raise SourceError where the header, or a row near it, has more columns than the bound."""
    if longest_text(lines.head(SEARCHED_ROWS)) > MOST_COLUMNS:
        for line in lines.head(SEARCHED_ROWS):
            cells = line.rstrip("".join(DELIMITERS) + " \r\n")
            refuse_many_columns(max(cells.count(delimiter) for delimiter in DELIMITERS) + 1, str(path))


def _start(lines: pl.Series, delimiters: Sequence[str], *, table: str, columns_of: ColumnsOf) -> CsvStart:
    """The header among the first records, and the delimiter that finds the best one."""
    searched = {delimiter: _first_records(lines, delimiter) for delimiter in delimiters}
    headers = {
        delimiter: header_row([record.cells for record in records], table, columns_of)
        for delimiter, records in searched.items()
    }
    delimiter = max(delimiters, key=lambda mark: _agreement(searched[mark], headers[mark]))
    records, chosen = searched[delimiter], headers[delimiter]
    header, titles = records[chosen.position], [records[position] for position in chosen.titles]
    return CsvStart(
        header=header.cells,
        form=RecordForm(delimiter, chosen.columns, needed_cells(header.cells)),
        line=header.start,
        not_rows=tuple(line for record in (*titles, header) for line in range(record.start, record.end + 1)),
        strays=tuple(records[position].start for position in chosen.strays),
        notes=title_notes([(title.start, title.cells) for title in titles]),
        titles=tuple(line_beside(title.start, title.cells, header.cells) for title in titles),
    )


def _agreement(records: Sequence[Record], header: HeaderRow) -> tuple[int, float, int]:
    """How well a delimiter splits a file: columns named, records as wide as the header, and cells of the header."""
    width = len(header.columns)
    if width < 2:
        return 0, 0.0, 1
    below = records[header.position :]
    even = sum(len(record.cells) == width for record in below) / len(below)
    return len(set(header.columns) - {None}), even, width


def _first_records(lines: pl.Series, delimiter: str) -> list[Record]:
    """The first records with content; the first line where none has any."""
    filled = re.compile(rf"[^\s{delimiter}]")
    starts = (number for number, line in enumerate(lines, start=1) if filled.search(line))
    records = records_from(lines, islice(starts, _SNIFFED_RECORDS * LONGEST_RECORD_LINES), RecordForm(delimiter))
    first = list(islice((record for record in records if record.has_content), _SNIFFED_RECORDS))
    return first or [read_record(lines, 1, RecordForm(delimiter))]


def needed_cells(header: list[str]) -> int:
    """Cells a row must have: up to the last header that is not blank."""
    return max((index for index, cell in enumerate(header, start=1) if cell.strip()), default=0)
