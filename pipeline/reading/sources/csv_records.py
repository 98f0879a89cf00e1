"""Records of a CSV text: where each begins and ends, and quotation marks that enclose what they should not.

A record that a stray quotation mark would stretch over the rows below ends with its own line, so that they are read.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import polars as pl

from draincurve.pipeline.reading.sources.bounds import LONGEST_CELL, LONGEST_RECORD_LINES
from draincurve.schemas.columns import FREE_TEXT


@dataclass(frozen=True, slots=True)
class Record:
    """The cells of one record, its first and last line, and why it is held back where its quotation marks stray."""

    start: int
    end: int
    cells: list[str]
    fault: str | None = None

    @property
    def has_content(self) -> bool:
        """Whether a cell holds more than blanks."""
        return any(cell.strip() for cell in self.cells)


@dataclass(frozen=True, slots=True)
class RecordForm:
    """What is known of the records of a file.

    columns : the column that each header cell names, None where none; empty as long as the header is not known
    needed : cells that a record must have
    """

    delimiter: str
    columns: Sequence[str | None] = ()
    needed: int = 0

    @property
    def last(self) -> int:
        """Delimiters of a record; two of a title, where the header is not known."""
        return max(len(self.columns) - 1, 2)


def physical_lines(encoded: bytes) -> pl.Series:
    """Lines as the csv module counts them, with ends that are not a mere line feed."""
    if b"\r" in encoded:
        return pl.Series(io.StringIO(encoded.decode(), newline="").readlines())
    return pl.read_lines(encoded).to_series()


def records_from(lines: pl.Series, starts: Iterable[int], form: RecordForm) -> Iterator[Record]:
    """The records that start on the given lines, but for lines inside the record before."""
    end, stray = 0, 0
    for start in starts:
        if start > end:
            record = read_record(lines, start, form)
            if record.fault is not None:
                stray = start
            elif stray and record.end == start and lines[start - 1].count('"') % 2:
                fault = f"the quotation that begins in line {stray} ends here: delete both quotation marks"
                record, stray = _cut_off(lines, start, form, fault=fault), 0
            end = record.end
            yield record


def read_record(lines: pl.Series, start: int, form: RecordForm) -> Record:
    """The record that starts on a line, held back where its quotation mark would swallow the rows below."""
    taken: list[str] = []

    def following() -> Iterator[str]:
        for index in range(start - 1, min(lines.len(), start - 1 + LONGEST_RECORD_LINES)):
            line = lines[index]
            taken.append(line if line.endswith(("\r", "\n")) else f"{line}\n")
            yield taken[-1]
        raise _NeverClosedError

    stray = f"a quotation mark that begins in line {start} encloses the rows below: close it or delete it"
    try:
        cells = next(csv.reader(following(), delimiter=form.delimiter))
    except (_NeverClosedError, csv.Error):
        return _cut_off(lines, start, form, fault=stray)
    end = start - 1 + len(taken)
    if end > start and _swallows_rows(cells, form):
        return _cut_off(lines, start, form, fault=stray)
    return Record(start, end, cells)


class _NeverClosedError(Exception):
    """The lines are at an end, and a quotation mark is still open."""


def _cut_off(lines: pl.Series, start: int, form: RecordForm, *, fault: str) -> Record:
    """The record of one line, whatever its quotation marks enclose."""
    cells = str(lines[start - 1]).rstrip("\r\n").split(form.delimiter)
    return Record(start, start, cells, fault)


def _swallows_rows(cells: Sequence[str], form: RecordForm) -> bool:
    """Whether a record of several lines holds rows that a stray quotation mark encloses."""
    if form.columns and (len(cells) < form.needed or any(cell.strip() for cell in cells[len(form.columns) :])):
        return True
    for index, cell in enumerate(cells):
        parts = [part.count(form.delimiter) for part in io.StringIO(cell, newline="")]
        if len(parts) > 1:
            column = form.columns[index] if index < len(form.columns) else None
            if column is not None and column not in FREE_TEXT:
                return True
            rest_of_row = parts[0] >= form.last - index and parts[-1] >= index
            if len(cell) > LONGEST_CELL or rest_of_row or any(count >= form.last for count in parts[1:-1]):
                return True
    return False
