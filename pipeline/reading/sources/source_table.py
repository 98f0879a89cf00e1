"""A table as it was typed: cells as text, each row with its line in the file."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from draincurve.pipeline.reading.sources.bounds import LONGEST_CELL, MOST_FILE_BYTES
from draincurve.schemas.errors import SourceError

LINE = "_line"
FAULT = "_fault"
SURPLUS = "_surplus"
NO_TEXT = "_no_text"
SOURCE = "_source"
OWN_COLUMNS = (LINE, FAULT, SURPLUS, NO_TEXT, SOURCE)
"""Columns that readers add; every other column holds cells of the file."""


HEADER_IN = "the header in "
"""How a note begins that says why the cell of a header has no value."""
_OURS = "draincurve:"
_SHOWN = 150
"""Characters of a cell past the bound that are kept, so that it can be recognised."""


def own_header(word: str) -> str:
    """A header that the program writes beside a log; its column is no part of the log when it is read again."""
    return f"{_OURS} {word}"


OWN_SHEETS = ("scales", "lists", "read me", "settings")
"""Sheets that the program writes beside the log's into an entry workbook and a workbook to mend."""
CLEAR_WHEN_MENDED = own_header("clear when mended")
"""The one column of ours that is read: a row with text here is held back, with that text as its fault."""


@dataclass(frozen=True, slots=True)
class LineBeside:
    """A line of a file that is not read as a row: a title above the header, or a hidden row.

    cells : position of each cell with content among the columns, without those of our own, and its text
    """

    line: int
    cells: tuple[tuple[int, str], ...]
    hidden: bool = False


@dataclass(frozen=True, slots=True)
class SourceTable:
    """A table before cleaning.

    source : name of the file, followed by "[sheet]" or "[table]" in a workbook or database; the pattern where several
        files were read
    sha256 : digest of the whole file; of the rows of a database; of all files of a pattern
    frame : one column per header, named as typed (repeated and blank headers are numbered), with the cells exactly as
        typed, an empty cell being null; String, or Categorical from a large Parquet file. Further columns:
        `_line` : Int64, line on which the record starts, row of the sheet, rowid, or row number from 1
        `_fault`, `_surplus` : only where rows do not fit the header: why (else null), and the cells past the header
        `_no_text` : only where a database holds bytes: List of String, the columns in which the row has such a cell
            (which is then null)
        `_source` : only in a table of several files: the file of the row
    notes : what the reader had to assume about the whole file
    beside : lines of the file that are not read as rows, which a workbook to mend keeps
    headers : header cells as typed, one for each column of cells; empty where they are the frame's column names
    parts : the tables of the single files, in order; empty for one file
    marks : what people left on cells that are used, beside their values: `_line`, `name` (column of the frame),
        `mark` (a kind of cell_marks) and `text`; None where there is nothing
    line_has_rows : whether a line of the file holds several rows, one for each of its values
    """

    table: str
    source: str
    sha256: str
    frame: pl.DataFrame
    notes: tuple[str, ...] = ()
    headers: tuple[str, ...] = ()
    parts: tuple[SourceTable, ...] = ()
    marks: pl.DataFrame | None = None
    beside: tuple[LineBeside, ...] = ()
    line_has_rows: bool = False

    @property
    def cell_columns(self) -> list[str]:
        """Names of the frame's columns that hold cells of the file."""
        return [name for name in self.frame.columns if name not in OWN_COLUMNS]

    @property
    def typed_headers(self) -> tuple[str, ...]:
        """Header cells as typed, in the order of `cell_columns`."""
        return self.headers or tuple(self.cell_columns)


def line_beside(
    line: int, cells: Sequence[str | None], headers: Sequence[str], *, hidden: bool = False
) -> LineBeside:
    """A line that is not read as a row; headers : of the table that it is above or in."""
    ours = [_is_ours(header) for header in headers]
    cells_with_text = [
        (position - sum(ours[:position]), cell)
        for position, cell in enumerate(cells)
        if cell is not None and cell.strip() and not (position < len(ours) and ours[position])
    ]
    return LineBeside(line, tuple(cells_with_text), hidden)


def file_bytes(path: Path, count: int = -1) -> bytes:
    """The whole file, or its first `count` bytes.

    Raises SourceError for a missing, unreadable or empty file, a folder, and anything else that is no plain file.
    """
    try:
        if path.is_dir():
            raise SourceError(f"{path}: is a folder; name the file in it")
        if path.exists() and not path.is_file():
            raise SourceError(f"{path}: is no plain file; name one")
        if path.exists() and path.stat().st_size > MOST_FILE_BYTES:
            raise SourceError(
                f"{path}: has {path.stat().st_size / 1e6:,.0f} MB; at most {MOST_FILE_BYTES / 1e6:,.0f} MB are read: "
                "give the log as several files"
            )
        with path.open("rb") as file:
            content = file.read(count)
    except FileNotFoundError as fault:
        raise SourceError(f"{path}: no such file; check the name and the folder") from fault
    except (OSError, ValueError) as fault:
        raise SourceError(f"{path}: cannot be read ({fault}); check that you may open it") from fault
    if not content:
        raise SourceError(f"{path}: the file is empty; expected a header row and rows below it")
    return content


def digest(content: bytes) -> str:
    """SHA-256 of a file's bytes, in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def digest_of_rows(frame: pl.DataFrame) -> str:
    """SHA-256 over names and texts of the columns, in hexadecimal; for rows that come from no file."""
    digest = hashlib.sha256()
    for column in frame.get_columns():
        digest.update(f"\x1d{column.name}\x1e".encode("utf-8", "surrogatepass"))
        digest.update(
            "\x1f".join(column.cast(pl.String).fill_null("\x00").to_list()).encode("utf-8", "surrogatepass")
        )
    return digest.hexdigest()


def unique_names(headers: Sequence[str]) -> list[str]:
    """Column names for header cells: as typed; a blank header is named by its position, a repeated one numbered."""
    names: list[str] = []
    taken = set(OWN_COLUMNS)
    for position, header in enumerate(headers, start=1):
        name = plain = header.strip() or f"column {position}"
        count = 1
        while name in taken:
            count += 1
            name = f"{plain} ({count})"
        taken.add(name)
        names.append(name)
    return names


def with_headers(
    cells: pl.DataFrame, headers: Sequence[str], *, line_columns: pl.DataFrame
) -> tuple[pl.DataFrame, tuple[str, ...]]:
    """Cells under their headers beside the reader's own columns; columns without header and content are dropped.

    So are columns that this program wrote into the file (see own_header).  cells : one String column for each header,
    in order. Returns the frame and the headers that were kept.
    """
    ours = {index: header.strip().casefold() for index, header in enumerate(headers) if _is_ours(header)}
    kept = [
        index
        for index, header in enumerate(headers)
        if index not in ours and (header.strip() or _has_content(cells.get_column(cells.columns[index])))
    ]
    for index, header in ours.items():
        if header == CLEAR_WHEN_MENDED:
            line_columns = _with_faults(line_columns, cells.get_column(cells.columns[index]))
    named = unique_names(headers)
    names = [named[index] for index in kept]
    columns = [
        _empty_as_null(cells.get_column(cells.columns[index]).alias(name))
        for index, name in zip(kept, names, strict=True)
    ]
    columns, line_columns = _with_short_cells(columns, line_columns)
    return pl.DataFrame([*columns, *line_columns.get_columns()]), tuple(headers[index] for index in kept)


def _is_ours(header: str) -> bool:
    return header.strip().casefold().startswith(_OURS)


def _with_faults(line_columns: pl.DataFrame, typed: pl.Series) -> pl.DataFrame:
    """The reader's own columns with the faults that the file itself names."""
    texts = typed.cast(pl.String).str.strip_chars()
    named = line_columns.with_columns(texts.alias("_named")).with_columns(
        pl.when(pl.col("_named") != "").then(pl.col("_named")).alias("_named")
    )
    if named.get_column("_named").null_count() == named.height:
        return line_columns
    fault = pl.coalesce(FAULT, "_named") if FAULT in line_columns.columns else pl.col("_named")
    return named.with_columns(fault.alias(FAULT)).drop("_named")


def longest_text(column: pl.Series) -> int:
    """Bytes of the longest text of a String or Categorical column; 0 where it holds none."""
    texts = column.unique().cast(pl.String) if column.dtype == pl.Categorical else column
    return int(texts.to_frame("text").select(pl.col("text").str.len_bytes().max().fill_null(0)).item())


def _with_short_cells(columns: list[pl.Series], line_columns: pl.DataFrame) -> tuple[list[pl.Series], pl.DataFrame]:
    """The same with cells past the bound cut, and their rows held back."""
    for index, column in enumerate(columns):
        if longest_text(column) <= LONGEST_CELL:
            continue
        typed = column.cast(pl.String)
        lengths = typed.str.len_chars()
        long = (lengths > LONGEST_CELL).fill_null(False)
        fault = (
            f"the cell under '{column.name[:_SHOWN]}' has " + lengths.cast(pl.String) + " characters; at most "
            f"{LONGEST_CELL:,} are read"
        )
        line_columns = _with_faults(line_columns, fault.zip_with(long, pl.Series([None], dtype=pl.String)))
        columns[index] = (typed.str.slice(0, _SHOWN) + "...").zip_with(long, typed).alias(column.name)
    return columns, line_columns


def _has_content(column: pl.Series) -> bool:
    return bool((column.unique().cast(pl.String).str.strip_chars() != "").any())


def _empty_as_null(column: pl.Series) -> pl.Series:
    name = column.name
    if not (column == "").any():
        return column
    return column.to_frame().select(pl.when(pl.col(name) != "").then(pl.col(name)).alias(name)).to_series()
