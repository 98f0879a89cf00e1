"""The header of a table: the row, among the first ones, whose cells name the most columns of the contract."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from draincurve.pipeline.reading.sources.bounds import MOST_COLUMNS
from draincurve.schemas.channels import CHANNELS

SEARCHED_ROWS = 30
"""Rows with content among which the header is looked for; people put a title, a shop and a date above it."""

_FEWEST_CELLS, _FEWEST_ROWS = 6, 2
_FEWEST_OF_A_LOG = 4
_DATE = re.compile(r"\d{4}[-/.]\d\d?[-/.]\d\d?\b|\d\d?[-/. ]+(?:\d\d?|[^\W\d]{3,9})[-/. ]+(?:\d\d){1,2}\b")
_RATING = re.compile(r"[1-5](?:[.,]0)?(?:\s*-\s*[1-5])?")
"""What the rows of a log hold, whatever is above them: unit, date, hours, oil, rating, spring and rider."""

ColumnsOf = Callable[[Sequence[str], str], Sequence[str | None]]
"""For the cells of a row and the name of a table: the column that each cell names as a header, None where none."""

_FEWEST_NAMED = 2
_TITLE_SHARE = 0.5
_LONGEST_TITLE_SHOWN = 60


@dataclass(frozen=True, slots=True)
class HeaderRow:
    """The header among the first rows of a table.

    position : its position among the rows, from 0
    columns : the column that each cell names, None where it names none
    titles : positions of rows above it that are titles
    strays : positions of rows above it that are as full as rows of the table
    """

    position: int
    columns: tuple[str | None, ...]
    titles: tuple[int, ...] = ()
    strays: tuple[int, ...] = ()

    @property
    def is_of_a_log(self) -> bool:
        """Whether it names the columns without which a row is no drain: unit, date and a rating."""
        ratings = {channel.rating for channel in CHANNELS}
        return {"unit_id", "drained_on"} <= set(self.columns) and not ratings.isdisjoint(self.columns)


def no_columns(cells: Sequence[str], table: str) -> Sequence[str | None]:  # noqa: ARG001
    """No cell names a column, so that the header is the first row."""
    return [None] * len(cells)


def header_row(rows: Sequence[Sequence[str]], table: str, columns_of: ColumnsOf) -> HeaderRow:
    """The header of a table, given its first rows with content; the first row where none names two columns.

    Of several rows that name equally many columns the first is the header. A row above it is a title where it fills
    fewer than half as many cells.
    """
    named = [_column_names(row, table, columns_of) for row in rows[:SEARCHED_ROWS]]
    counts = [_count_named(row, columns) for row, columns in zip(rows, named, strict=False)]
    position = counts.index(max(counts))
    columns = named[position]
    full = _filled(rows[position])
    titles = [above for above in range(position) if _filled(rows[above]) < max(2, _TITLE_SHARE * full)]
    strays = [above for above in range(position) if above not in titles]
    return HeaderRow(position, columns, tuple(titles), tuple(strays))


def may_be_a_log(header: HeaderRow, rows: Sequence[Sequence[str]]) -> bool:
    """Whether a table whose header is no log's may be one: by the columns that it names, or by most of its rows.

    rows : its first rows with content
    """
    named = {column for column in header.columns if column is not None}
    if len(named) >= _FEWEST_OF_A_LOG and "drained_on" in named:
        return True
    drain_rows = sum(is_like_a_drain(row) for row in rows)
    return drain_rows >= max(_FEWEST_ROWS, len(rows) / 2)


def is_like_a_drain(row: Sequence[str]) -> bool:
    """Whether a row has a date, a rating and as many cells as a row of a log."""
    cells = [cell.strip() for cell in row if cell.strip()]
    dated = any(_DATE.match(cell) for cell in cells)
    return dated and len(cells) >= _FEWEST_CELLS and any(_RATING.fullmatch(cell) for cell in cells)


def title_notes(titles: Sequence[tuple[int, Sequence[str]]]) -> tuple[str, ...]:
    """One note that names the lines above the header and the first title; titles : line and cells of each."""
    if not titles:
        return ()
    first, last = titles[0][0], titles[-1][0]
    lines = f"line {first} is a title" if first == last else f"lines {first} to {last} are titles"
    shown = next(cell.strip() for cell in titles[0][1] if cell.strip())
    shown = shown if len(shown) <= _LONGEST_TITLE_SHOWN else f"{shown[:_LONGEST_TITLE_SHOWN]}..."
    return (f"{lines} above the header ('{shown}'), not a row",)


def stray_fault(header_line: int) -> str:
    """Why a row above the header is held back."""
    return f"the row is above the header in line {header_line}: move it below"


def _column_names(row: Sequence[str], table: str, columns_of: ColumnsOf) -> tuple[str | None, ...]:
    """The column that each cell names; none past the bound of columns."""
    return (*columns_of(row[:MOST_COLUMNS], table), *[None] * (len(row) - MOST_COLUMNS))


def _count_named(row: Sequence[str], columns: Sequence[str | None]) -> int:
    """Different columns that a row names; 0 where they are too few, or too few of its cells, for a header."""
    named = len({column for column in columns if column is not None})
    enough = named >= _FEWEST_NAMED and (named > _FEWEST_NAMED or 2 * named >= _filled(row))
    return named if enough else 0


def _filled(row: Sequence[str]) -> int:
    return sum(bool(cell.strip()) for cell in row)
