"""One table as it was typed: cells as text, each row with its line in the file."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from schemas.errors import SourceError

LINE = "_line"
FAULT = "_fault"
SURPLUS = "_surplus"
OWN_COLUMNS = (LINE, FAULT, SURPLUS)
"""Columns a reader adds; every other column is a cell column of the file."""


@dataclass(frozen=True, slots=True)
class SourceTable:
    """A table before anything is understood.

    source : file name, with "[sheet]" behind it for a workbook
    sha256 : digest of the whole file
    frame : cell columns as String exactly as typed (an empty cell is null), named by the header as typed (a
        repeated or blank header gets a number), and `_line` Int64 (line where the record starts; row of the
        sheet; row from 1 for Parquet). Only where rows do not fit the header: `_fault` (why, else null) and
        `_surplus` (cells past the header).
    notes : what the reader had to assume about the whole file
    headers : the header cells as typed, one for each cell column; empty means the frame's column names
    """

    table: str
    source: str
    sha256: str
    frame: pl.DataFrame
    notes: tuple[str, ...] = ()
    headers: tuple[str, ...] = ()

    @property
    def cell_columns(self) -> list[str]:
        """Names of the frame's columns that hold cells of the file."""
        return [name for name in self.frame.columns if name not in OWN_COLUMNS]

    @property
    def typed_headers(self) -> tuple[str, ...]:
        """Header cells as typed, in the order of `cell_columns`."""
        return self.headers or tuple(self.cell_columns)


def file_bytes(path: Path) -> bytes:
    """The whole file; raises SourceError for a missing, unreadable or empty file, or a folder."""
    if path.is_dir():
        raise SourceError(f"{path}: is a folder; name the file in it")
    try:
        content = path.read_bytes()
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
    return bool((column.str.strip_chars() != "").any())


def _empty_as_null(column: pl.Series) -> pl.Series:
    name = column.name
    return column.to_frame().select(pl.when(pl.col(name) != "").then(pl.col(name)).alias(name)).to_series()
