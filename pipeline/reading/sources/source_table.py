"""One table as it was typed: cells as text, each row with its line in the file."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from draincurve.schemas.errors import SourceError

LINE = "_line"
FAULT = "_fault"
SURPLUS = "_surplus"
NO_TEXT = "_no_text"
SOURCE = "_source"
OWN_COLUMNS = (LINE, FAULT, SURPLUS, NO_TEXT, SOURCE)
"""Columns a reader adds; every other column is a cell column of the file."""


@dataclass(frozen=True, slots=True)
class SourceTable:
    """A table before anything is understood.

    source : file name, with "[sheet]" behind it for a workbook and "[table]" for a database; pattern of several files
    sha256 : digest of the whole file; of the rows where a database gave them; of all the files of a pattern
    frame : cell columns as String, of a large Parquet file as Categorical, exactly as typed (an empty cell is null),
        named by the header as typed (a repeated or blank header gets a number), and `_line` Int64 (line where the
        record starts; row of the sheet; row from 1 for Parquet; rowid or row from 1 for a database). Only where rows
        do not fit the header: `_fault` (why, else null) and `_surplus` (cells past the header). Only where a cell of
        a database is no text: `_no_text`, List of String, the cell columns that hold such a cell, which is then
        null. Only in a table of several files: `_source`, the file of the row.
    notes : what the reader had to assume about the whole file
    headers : the header cells as typed, one for each cell column; empty means the frame's column names
    parts : the tables of the files that a table of several files was put together from, in order; else empty
    """

    table: str
    source: str
    sha256: str
    frame: pl.DataFrame
    notes: tuple[str, ...] = ()
    headers: tuple[str, ...] = ()
    parts: tuple[SourceTable, ...] = ()

    @property
    def cell_columns(self) -> list[str]:
        """Names of the frame's columns that hold cells of the file."""
        return [name for name in self.frame.columns if name not in OWN_COLUMNS]

    @property
    def typed_headers(self) -> tuple[str, ...]:
        """Header cells as typed, in the order of `cell_columns`."""
        return self.headers or tuple(self.cell_columns)


def file_bytes(path: Path, count: int = -1) -> bytes:
    """The whole file, or its first `count` bytes.

    Raises SourceError for a missing, unreadable or empty file, a folder, and anything else that is no plain file.
    """
    try:
        if path.is_dir():
            raise SourceError(f"{path}: is a folder; name the file in it")
        if path.exists() and not path.is_file():
            raise SourceError(f"{path}: is no plain file; name one")
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
    found = hashlib.sha256()
    for column in frame.get_columns():
        found.update(f"\x1d{column.name}\x1e".encode("utf-8", "surrogatepass"))
        found.update("\x1f".join(column.cast(pl.String).fill_null("\x00").to_list()).encode("utf-8", "surrogatepass"))
    return found.hexdigest()


def unique_names(headers: Sequence[str]) -> list[str]:
    """Column names for header cells: as typed, a blank one named by its position, a repeated one numbered."""
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


def titled(cells: pl.DataFrame, headers: Sequence[str], own: pl.DataFrame) -> tuple[pl.DataFrame, tuple[str, ...]]:
    """Cells with their header names beside the reader's own columns; empty ones without header are dropped.

    cells : one String column for each header, in order. Returns the frame and the headers that stayed.
    """
    kept = [
        index
        for index, header in enumerate(headers)
        if header.strip() or _has_content(cells.get_column(cells.columns[index]))
    ]
    named = unique_names(headers)
    names = [named[index] for index in kept]
    columns = [
        _empty_as_null(cells.get_column(cells.columns[index]).alias(name))
        for index, name in zip(kept, names, strict=True)
    ]
    return pl.DataFrame([*columns, *own.get_columns()]), tuple(headers[index] for index in kept)


def _has_content(column: pl.Series) -> bool:
    return bool((column.unique().cast(pl.String).str.strip_chars() != "").any())


def _empty_as_null(column: pl.Series) -> pl.Series:
    name = column.name
    if not (column == "").any():
        return column
    return column.to_frame().select(pl.when(pl.col(name) != "").then(pl.col(name)).alias(name)).to_series()
