"""CSV files as text: the delimiter is detected, and every record keeps the line on which it starts."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from pathlib import Path

import polars as pl

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


def read_csv_file(path: Path, table: str) -> SourceTable:
    """A CSV file as typed.

    The encoding is UTF-8 with or without BOM, else Windows-1252 with a note. The delimiter is `,`, `;` or tab,
    whichever splits the rows most evenly, unless a first line such as `sep=;` declares it. Lines without content
    are skipped and do not count as rows. Raises SourceError for an empty file, NUL bytes, another encoding, and a
    quotation mark that is never closed.
    """
    content = file_bytes(path)
    text, notes = decoded(content, path)
    text, delimiter, skipped = declared_delimiter(text)
    text = _with_content(text, path)
    delimiter = delimiter or sniffed_delimiter(text)
    header, cells, own = _records(text, delimiter, path=path)
    own = own.with_columns(pl.col(LINE) + skipped)
    if own.get_column(FAULT).null_count() == own.height:
        own = own.select(LINE)
    frame, headers = with_headers(cells, header, own=own)
    return SourceTable(table, path.name, digest(content), frame, notes, headers)


def sniffed_delimiter(text: str) -> str:
    """The delimiter that gives most of the first records as many cells as the header; on a tie, the most cells."""
    best, best_score = ",", (0.0, 1)
    for delimiter in DELIMITERS:
        widths = _first_widths(text, delimiter)
        if widths and widths[0] > 1:
            score = (sum(width == widths[0] for width in widths) / len(widths), widths[0])
            if score > best_score:
                best, best_score = delimiter, score
    return best


def _first_widths(text: str, delimiter: str) -> list[int]:
    reader = csv.reader(io.StringIO(text[:_SNIFFED_CHARACTERS], newline=""), delimiter=delimiter)
    widths: list[int] = []
    try:
        for record in reader:
            if any(cell.strip() for cell in record):
                widths.append(len(record))
            if len(widths) == _SNIFFED_RECORDS:
                break
    except csv.Error:
        return widths
    return widths


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
    first, _, rest = text.partition("\n")
    named = first.rstrip("\r")
    if len(named) == len("sep=;") and named.lower().startswith("sep=") and named[-1] in DELIMITERS:
        return rest, named[-1], 1
    return text, None, 0


def _records(text: str, delimiter: str, *, path: Path) -> tuple[list[str], pl.DataFrame, pl.DataFrame]:
    """Header, cells and own columns of a text.

    Polars splits the lines whose quotation marks, if there are any, enclose whole cells: nearly all. It cannot be
    trusted with others, so the csv module reads each other record, from the line on which it starts.
    """
    lines = _physical_lines(text)
    header, below = _header(lines, delimiter, path=path)
    rows = pl.DataFrame({LINE: pl.int_range(1, lines.len() + 1, eager=True), "text": lines}).slice(below)
    quoted: list[_Record] = []
    if '"' in text:
        cell = f'(?:"(?:[^"\\r\\n]|"")*"|[^"{delimiter}]*)'
        regular = pl.col("text").str.contains(f"^{cell}(?:{delimiter}{cell})*$")
        starts = rows.filter(pl.col("text").str.contains('"', literal=True)).filter(~regular).get_column(LINE)
        quoted = _quoted_records(lines, starts, delimiter, path=path)
        inside = [line for record in quoted for line in range(record.start, record.end + 1)]
        rows = rows.filter(~pl.col(LINE).is_in(inside)) if inside else rows
    rows = rows.filter(pl.col("text").str.contains(rf'[^\s"{delimiter}]'))
    if rows.height < lines.len() - below or "\r" in text:
        body = rows.get_column("text").str.strip_chars_end("\r\n").str.join("\n").item()
    else:
        body = text[len("".join(lines.head(below))) :]  # all of it, which needs no joining
    cells = _split_by_polars(body, delimiter, width=len(header)).with_columns(rows.get_column(LINE))
    faults = [_fault(record, header) for record in _uneven(rows, header, delimiter)]
    filled = [record for record in quoted if record.has_content]
    if filled:
        fields = [[*record.cells, *[None] * len(header)][: len(header)] for record in filled]
        read = pl.DataFrame(fields, schema=cells.drop(LINE).schema, orient="row")
        cells = pl.concat([cells, read.with_columns(pl.Series(LINE, [record.start for record in filled]))]).sort(LINE)
        faults += [_fault(record, header) for record in filled]
    return header, cells.drop(LINE), _own_columns(cells.get_column(LINE), faults)


def _physical_lines(text: str) -> pl.Series:
    """Lines with their ends, as the csv module counts them."""
    if "\r" in text and "\r" in text.replace("\r\n", ""):
        return pl.Series(io.StringIO(text, newline="").readlines())
    return pl.Series([text]).str.split("\n", inclusive=True).explode()


def _header(lines: pl.Series, delimiter: str, *, path: Path) -> tuple[list[str], int]:
    """Cells of the first record with content, and the last line of it."""
    record = _record(lines, 1, delimiter, path=path)
    while not record.has_content:
        record = _record(lines, record.end + 1, delimiter, path=path)
    return record.cells, record.end


def _split_by_polars(body: str, delimiter: str, *, width: int) -> pl.DataFrame:
    """Cells of a text of which each line is one regular record, null where a line is short of cells."""
    names = delimiter.join(f"field_{index}" for index in range(width))
    return pl.read_csv(
        f"{names}\n{body}".encode(),
        separator=delimiter,
        quote_char='"' if '"' in body else None,
        infer_schema=False,
        truncate_ragged_lines=True,
    ).rechunk()


def _uneven(rows: pl.DataFrame, header: list[str], delimiter: str) -> list[_Record]:
    """Regular records with fewer or more cells than the header."""

    def is_uneven(text: pl.Expr) -> pl.Expr:
        marks = text.str.count_matches(delimiter, literal=True)
        return (marks + 1 < _needed_cells(header)) | (marks >= len(header))

    typed = pl.col("text")
    doubtful = rows.filter(is_uneven(typed) | typed.str.contains('"', literal=True))
    uneven = doubtful.filter(is_uneven(typed.str.replace_all('"[^"]*"', "")))  # as quoted delimiters split nothing
    records = ((line, next(csv.reader([text], delimiter=delimiter))) for line, text in uneven.iter_rows())
    return [_Record(line, line, cells) for line, cells in records]


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
    reader = csv.reader((lines[index] for index in range(start - 1, lines.len())), delimiter=delimiter)
    try:
        cells = next(reader)
    except csv.Error as fault:
        raise SourceError(
            f"{path}: line {start}: {fault}; a quotation mark is probably opened there and never closed"
        ) from fault
    record = _Record(start, start - 1 + reader.line_num, cells)
    if record.end == lines.len():
        _refuse_open_quote(lines[start - 1 :].to_list(), delimiter, start=start, path=path)
    return record


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
