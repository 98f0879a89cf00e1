"""CSV files as text: the delimiter is detected, and every record keeps the line on which it starts."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from draincurve.pipeline.reading.sources.header_row import (
    SEARCHED_ROWS,
    ColumnsOf,
    HeaderRow,
    header_row,
    no_columns,
    stray_fault,
    title_notes,
)
from draincurve.pipeline.reading.sources.reading_options import AS_IT_IS, ReadingOptions
from draincurve.pipeline.reading.sources.source_table import (
    FAULT,
    LINE,
    SURPLUS,
    SourceTable,
    digest,
    file_bytes,
    with_headers,
)
from draincurve.schemas.errors import SourceError

DELIMITERS = (",", ";", "\t")
CELL_LIMIT = 1_000_000
"""Longest cell that is read; a longer one is nearly always a quotation mark that was never closed."""

_SNIFFED_RECORDS = 60
_SNIFFED_CHARACTERS = 500_000


@dataclass(frozen=True, slots=True)
class _Record:
    """The cells of one record, and its first and last line."""

    start: int
    end: int
    cells: list[str]

    @property
    def has_content(self) -> bool:
        return any(cell.strip() for cell in self.cells)


_Fault = tuple[int, str | None, str | None]
"""First line of a record, why it does not fit the header (None where it does), and its surplus cells."""


@dataclass(frozen=True, slots=True)
class _Start:
    """The header of a file and what is above it.

    header : its cells. line : on which it starts. not_rows : lines of the header and of titles
    strays : lines above the header on which rows start
    """

    header: list[str]
    line: int
    not_rows: tuple[int, ...]
    strays: tuple[int, ...]
    notes: tuple[str, ...]


def read_csv_file(path: Path, table: str, options: ReadingOptions = AS_IT_IS) -> SourceTable:
    """A CSV file as typed.

    The encoding is UTF-8 with or without BOM, else Windows-1252 with a note. The delimiter is `,`, `;` or tab,
    whichever gives the most headers and splits the rows most evenly, unless a first line such as `sep=;` declares it.
    Titles above the header are no rows; lines without content are skipped and do not count as rows. Raises
    SourceError for an empty file, NUL bytes, another encoding, and a quotation mark that is never closed.
    """
    content = file_bytes(path)
    text, notes = decoded(content, path)
    text, delimiter, skipped = declared_delimiter(text)
    text = _with_content(text, path)
    delimiter = delimiter or sniffed_delimiter(text, table, columns_of=options.columns_of)
    encoded = text.encode()
    lines = _physical_lines(encoded)
    start = _start(lines, delimiter, table=table, columns_of=options.columns_of, path=path, skipped=skipped)
    cells, own = _records(encoded, lines, delimiter=delimiter, start=start, path=path)
    own = _strays_held_back(own, start, skipped=skipped).with_columns(pl.col(LINE) + skipped)
    if own.get_column(FAULT).null_count() == own.height:
        own = own.select(LINE)
    frame, headers = with_headers(cells, start.header, own=own)
    return SourceTable(table, path.name, digest(content), frame, (*notes, *start.notes), headers)


def _start(
    lines: pl.Series, delimiter: str, *, table: str, columns_of: ColumnsOf, path: Path, skipped: int
) -> _Start:
    """The header among the first records; skipped : lines that were removed above them."""
    records: list[_Record] = []
    next_line = 1
    while next_line <= lines.len() and len(records) < SEARCHED_ROWS:
        record = _record(lines, next_line, delimiter, path=path)
        next_line = record.end + 1
        if record.has_content:
            records.append(record)
    found = header_row([record.cells for record in records], table, columns_of)
    header, titles = records[found.position], [records[position] for position in found.titles]
    return _Start(
        header=header.cells,
        line=header.start,
        not_rows=tuple(line for record in (*titles, header) for line in range(record.start, record.end + 1)),
        strays=tuple(records[position].start for position in found.strays),
        notes=title_notes([(title.start + skipped, title.cells) for title in titles]),
    )


def _strays_held_back(own: pl.DataFrame, start: _Start, *, skipped: int) -> pl.DataFrame:
    """The reader's own columns, with a fault for each row above the header."""
    if not start.strays:
        return own
    fault = pl.lit(stray_fault(start.line + skipped))
    return own.with_columns(pl.when(pl.col(LINE).is_in(start.strays)).then(fault).otherwise(FAULT).alias(FAULT))


def sniffed_delimiter(text: str, table: str = "drains", *, columns_of: ColumnsOf = no_columns) -> str:
    """The delimiter that gives the most headers, then most of the first records as many cells as the header.

    On a tie, the one that gives the header the most cells.
    """
    best, best_score = ",", (0, 0.0, 1)
    for delimiter in DELIMITERS:
        records = _first_records(text, delimiter)
        found = header_row(records, table, columns_of) if records else HeaderRow(0, ())
        width = len(found.columns)
        if width > 1:
            below = records[found.position :]
            even = sum(len(record) == width for record in below) / len(below)
            score = (len(set(found.columns) - {None}), even, width)
            if score > best_score:
                best, best_score = delimiter, score
    return best


def _first_records(text: str, delimiter: str) -> list[list[str]]:
    reader = csv.reader(io.StringIO(text[:_SNIFFED_CHARACTERS], newline=""), delimiter=delimiter)
    records: list[list[str]] = []
    try:
        for record in reader:
            if any(cell.strip() for cell in record):
                records.append(record)
            if len(records) == _SNIFFED_RECORDS:
                break
    except csv.Error:
        return records
    return records


def decoded(content: bytes, path: Path) -> tuple[str, tuple[str, ...]]:
    """Text of the file, and notes on what had to be assumed."""
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise SourceError(f"{path}: is UTF-16 text; save it again as CSV UTF-8")
    if b"\x00" in content:
        line = content[: content.index(b"\x00")].count(b"\n") + 1
        raise SourceError(
            f"{path}: line {line}: holds NUL bytes, so it is not plain text; save it again as CSV UTF-8"
        )
    try:
        text, notes = content.decode("utf-8-sig"), ()
    except UnicodeDecodeError as fault:
        try:
            text = content.decode("cp1252")
        except UnicodeDecodeError:
            line = content[: fault.start].count(b"\n") + 1
            raise SourceError(f"{path}: line {line}: is not UTF-8 text; save it again as CSV UTF-8") from fault
        note = "not UTF-8: read as Windows-1252; check letters with accents, or save it as CSV UTF-8"
        return _with_content(text, path), (note,)
    return _with_content(text, path), notes


def _with_content(text: str, path: Path) -> str:
    if not re.search(r'[^\s,;"]', text):
        raise SourceError(f"{path}: the file is empty; expected a header row and rows below it")
    return text


def declared_delimiter(text: str) -> tuple[str, str | None, int]:
    """Text without a first line such as `sep=;`, the delimiter it declares, and the number of lines removed."""
    declared = re.match(rf"sep=([{''.join(DELIMITERS)}])\r*(?:\n|$)", text, re.IGNORECASE)
    return (text[declared.end() :], declared[1], 1) if declared else (text, None, 0)


def _records(
    encoded: bytes, lines: pl.Series, *, delimiter: str, start: _Start, path: Path
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Cells and own columns of the rows among the lines of a text.

    Polars splits the lines whose quotation marks, if there are any, enclose whole cells: nearly all. It cannot be
    trusted with others, so the csv module reads each other record, from the line on which it starts.
    """
    header = start.header
    rows = pl.DataFrame({LINE: pl.int_range(1, lines.len() + 1, eager=True), "text": lines})
    rows = rows.filter(~pl.col(LINE).is_in(start.not_rows))
    quoted: list[_Record] = []
    if b'"' in encoded:
        cell = f'(?:"(?:[^"\\r\\n]|"")*"|[^"{delimiter}]*)'
        regular = pl.col("text").str.contains(f"^{cell}(?:{delimiter}{cell})*$")
        starts = rows.filter(pl.col("text").str.contains('"', literal=True)).filter(~regular).get_column(LINE)
        quoted = _quoted_records(lines, starts, delimiter, path=path)
        inside = [line for record in quoted for line in range(record.start, record.end + 1)]
        rows = rows.filter(~pl.col(LINE).is_in(inside)) if inside else rows
    rows = rows.filter(pl.col("text").str.contains(rf'[^\s"{delimiter}]'))
    is_whole = start.not_rows == (1,) and rows.height == lines.len() - 1 and '"' not in lines[0]
    if not is_whole or b"\r" in encoded:
        joined = rows.get_column("text").str.strip_chars_end("\r\n").str.join("\n").item()
        names = delimiter.join(f"field_{index}" for index in range(len(header)))
        encoded = f"{names}\n{joined}".encode()
    cells = _split_by_polars(encoded, delimiter, width=len(header))
    faults = [_fault(record, header) for record in _uneven(rows, cells, header=header, delimiter=delimiter)]
    cells = cells.with_columns(rows.get_column(LINE))
    filled = [record for record in quoted if record.has_content]
    if filled:
        fields = [[*record.cells, *[None] * len(header)][: len(header)] for record in filled]
        read = pl.DataFrame(fields, schema=cells.drop(LINE).schema, orient="row")
        cells = pl.concat([cells, read.with_columns(pl.Series(LINE, [record.start for record in filled]))]).sort(LINE)
        faults += [_fault(record, header) for record in filled]
    return cells.drop(LINE), _own_columns(cells.get_column(LINE), faults)


def _physical_lines(encoded: bytes) -> pl.Series:
    """Lines as the csv module counts them, with ends that are not a mere line feed."""
    if b"\r" in encoded:
        return pl.Series(io.StringIO(encoded.decode(), newline="").readlines())
    return pl.read_lines(encoded).to_series()


def _split_by_polars(encoded: bytes, delimiter: str, *, width: int) -> pl.DataFrame:
    """Cells of lines below a header, each one regular record; null where a line is short of cells."""
    cells = pl.read_csv(
        encoded,
        separator=delimiter,
        quote_char='"' if b'"' in encoded else None,
        infer_schema=False,
        truncate_ragged_lines=True,
    )
    cells.columns = [f"field_{index}" for index in range(width)]
    return cells


def _uneven(rows: pl.DataFrame, cells: pl.DataFrame, *, header: list[str], delimiter: str) -> list[_Record]:
    """Regular records with fewer or more cells than the header.

    A line that fits is as long as its cells and the delimiters between them, which is quick to see. Delimiters are
    counted only in the others, and in lines with quotation marks, inside of which they do not count.
    """
    text = pl.col("text").str.strip_chars_end("\r\n")
    cells_length = cells.select(pl.sum_horizontal(pl.all().str.len_bytes())).to_series()
    fits = text.str.len_bytes() == cells_length + len(header) - 1
    marks = text.str.replace_all('"[^"]*"', "").str.count_matches(delimiter, literal=True)
    doubtful = rows.filter(~fits | text.str.contains('"', literal=True))
    uneven = doubtful.filter((marks + 1 < _needed_cells(header)) | (marks >= len(header)))
    records = ((line, next(csv.reader([typed], delimiter=delimiter))) for line, typed in uneven.iter_rows())
    return [_Record(line, line, cells_of_line) for line, cells_of_line in records]


def _quoted_records(lines: pl.Series, starts: pl.Series, delimiter: str, *, path: Path) -> list[_Record]:
    """The records that start on the given lines, but for lines inside the record before."""
    records: list[_Record] = []
    for start in starts:
        if not records or start > records[-1].end:
            records.append(_record(lines, start, delimiter, path=path))
    return records


def _record(lines: pl.Series, start: int, delimiter: str, *, path: Path) -> _Record:
    """The record that starts on a line. SourceError if it opens a quotation mark that the file never closes."""
    csv.field_size_limit(CELL_LIMIT)
    reader = csv.reader((_with_end(lines[index]) for index in range(start - 1, lines.len())), delimiter=delimiter)
    try:
        cells = next(reader)
    except csv.Error as fault:
        raise SourceError(
            f"{path}: line {start}: {fault}; a quotation mark is probably opened there and never closed"
        ) from fault
    record = _Record(start, start - 1 + reader.line_num, cells)
    if record.end == lines.len():
        _refuse_open_quote([_with_end(line) for line in lines[start - 1 :]], delimiter, start=start, path=path)
    return record


def _with_end(line: str) -> str:
    return line if line.endswith(("\r", "\n")) else f"{line}\n"


def _refuse_open_quote(tail: list[str], delimiter: str, *, start: int, path: Path) -> None:
    """SourceError if the last record opens a quotation mark that the file never closes."""
    try:
        list(csv.reader(tail, delimiter=delimiter, strict=True))
    except csv.Error as fault:
        if "unexpected end" in str(fault):
            raise SourceError(
                f"{path}: line {start}: a quotation mark is opened and never closed; close or remove it"
            ) from fault


def _needed_cells(header: list[str]) -> int:
    """Cells a row must have: up to the last header that is not blank."""
    return max((index for index, cell in enumerate(header, start=1) if cell.strip()), default=0)


def _fault(record: _Record, header: list[str]) -> _Fault:
    """Why a record does not fit the header, and its surplus cells; nothing if only blank cells differ."""
    start, end, cells = record.start, record.end, record.cells
    needed = _needed_cells(header)
    spans = f"; it runs from line {start} to line {end}: look for a stray quotation mark" if end > start else ""
    if len(cells) < needed:
        return start, f"the row has {len(cells)} cells, the header has {needed}: a cell is missing{spans}", None
    surplus = cells[len(header) :]
    if not any(cell.strip() for cell in surplus):
        return start, None, None
    why = f"the row has {len(cells)} cells, the header has {needed}"
    return start, f"{why}: a cell with the delimiter in it needs quotation marks{spans}", " | ".join(surplus)


def _own_columns(lines: pl.Series, faults: list[_Fault]) -> pl.DataFrame:
    """`_line`, `_fault` and `_surplus` for every row."""
    found = pl.DataFrame(faults, schema={LINE: pl.Int64, FAULT: pl.String, SURPLUS: pl.String}, orient="row")
    return lines.to_frame(LINE).join(found, on=LINE, how="left", maintain_order="left")
