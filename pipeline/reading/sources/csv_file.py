"""CSV files as text: the delimiter is detected, and every record keeps the line on which it starts."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
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
_RECORDS_A_PIECE = 50_000


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
    quoted = '"' in text
    header, cells, own = _quoted_records(text, delimiter, path=path) if quoted else _plain_records(text, delimiter)
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


def _plain_records(text: str, delimiter: str) -> tuple[list[str], pl.DataFrame, pl.DataFrame]:
    """Header, cells and own columns of a text without quotation marks, split by polars."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    lines = pl.DataFrame({"text": pl.Series([text]).str.split("\n").explode()}).with_row_index(LINE, offset=1)
    filled = pl.col("text").str.replace_all(delimiter, "", literal=True).str.strip_chars() != ""
    lines = lines.filter(filled)
    header = str(lines.item(0, "text")).split(delimiter)
    rows = lines.slice(1).with_columns(pl.col("text").str.count_matches(delimiter, literal=True).alias("marks"))
    fields = rows.get_column("text").str.split_exact(delimiter, len(header) - 1).struct.unnest()
    needed = _needed_cells(header)
    uneven = rows.with_row_index("row").filter((pl.col("marks") + 1 < needed) | (pl.col("marks") >= len(header)))
    faults: list[tuple[int, str, str | None]] = []
    for row, line, typed in uneven.select("row", LINE, "text").iter_rows():
        fault, surplus = _uneven(typed.split(delimiter), header, start=line, end=line)
        if fault:
            faults.append((row, fault, surplus))
    return header, fields, _own_columns(rows.get_column(LINE), faults)


def _quoted_records(text: str, delimiter: str, *, path: Path) -> tuple[list[str], pl.DataFrame, pl.DataFrame]:
    """Header, cells and own columns of a text with quotation marks, split by the csv module."""
    records = _records(text, delimiter, path=path)
    _, _, header = next(records)
    width = len(header)
    lines: list[int] = []
    faults: list[tuple[int, str, str | None]] = []
    piece: list[list[str | None]] = []
    names = [f"field_{index}" for index in range(width)]
    schema = dict.fromkeys(names, pl.String)
    pieces = [pl.DataFrame(schema=schema)]
    for start, end, record in records:
        if len(record) != width:
            fault, surplus = _uneven(record, header, start=start, end=end)
            if fault:
                faults.append((len(lines), fault, surplus))
        lines.append(start)
        piece.append([*record[:width], *[None] * (width - len(record))])
        if len(piece) == _RECORDS_A_PIECE:
            pieces.append(pl.DataFrame(piece, schema=schema, orient="row"))
            piece = []
    if piece:
        pieces.append(pl.DataFrame(piece, schema=schema, orient="row"))
    return header, pl.concat(pieces), _own_columns(pl.Series(LINE, lines, dtype=pl.Int64), faults)


def _records(text: str, delimiter: str, *, path: Path) -> Iterator[tuple[int, int, list[str]]]:
    """First line, last line and cells of each record with content."""
    csv.field_size_limit(CELL_LIMIT)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    start = last_start = 1
    try:
        for record in reader:
            last_start, end = start, reader.line_num
            start = end + 1
            if any(cell.strip() for cell in record):
                yield last_start, end, record
    except csv.Error as fault:
        raise SourceError(
            f"{path}: line {start}: {fault}; a quotation mark is probably opened there and never closed"
        ) from fault
    _refuse_open_quote(text, delimiter, last_start=last_start, path=path)


def _refuse_open_quote(text: str, delimiter: str, *, last_start: int, path: Path) -> None:
    """SourceError if the last record opens a quotation mark that the file never closes."""
    tail = "".join(io.StringIO(text, newline="").readlines()[last_start - 1 :])
    try:
        list(csv.reader(io.StringIO(tail, newline=""), delimiter=delimiter, strict=True))
    except csv.Error as fault:
        if "unexpected end" in str(fault):
            raise SourceError(
                f"{path}: line {last_start}: a quotation mark is opened and never closed; close or remove it"
            ) from fault


def _needed_cells(header: list[str]) -> int:
    """Cells a row must have: up to the last header that is not blank."""
    return max((index for index, cell in enumerate(header, start=1) if cell.strip()), default=0)


def _uneven(cells: list[str], header: list[str], *, start: int, end: int) -> tuple[str | None, str | None]:
    """Why a record does not fit the header, and its surplus cells; nothing if only blank cells differ."""
    needed = _needed_cells(header)
    spans = f"; it runs from line {start} to line {end}: look for a stray quotation mark" if end > start else ""
    if len(cells) < needed:
        return f"the row has {len(cells)} cells, the header has {needed}: a cell is missing{spans}", None
    surplus = cells[len(header) :]
    if not any(cell.strip() for cell in surplus):
        return None, None
    why = f"the row has {len(cells)} cells, the header has {needed}"
    return f"{why}: a cell with the delimiter in it needs quotation marks{spans}", " | ".join(surplus)


def _own_columns(lines: pl.Series, faults: list[tuple[int, str, str | None]]) -> pl.DataFrame:
    """`_line`, `_fault` and `_surplus` for every row."""
    found = pl.DataFrame(faults, schema={"row": pl.UInt32, FAULT: pl.String, SURPLUS: pl.String}, orient="row")
    rows = lines.cast(pl.Int64).to_frame(LINE).with_row_index("row").cast({"row": pl.UInt32})
    return rows.join(found, on="row", how="left", maintain_order="left").drop("row")
