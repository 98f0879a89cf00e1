"""A design of many drains kept as numbers and places of levels, made into columns for as many rows as are asked for.

A level's columns are the same in every row that has it, so a row needs only the level's place: a few bytes where its
columns would take a hundred.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import polars as pl
from numba import njit, prange
from numpy.typing import NDArray

from draincurve.pipeline.describing.design_terms import Term
from draincurve.schemas.array_types import Floats, Integers

Places = NDArray[np.uint16]

MOST_LEVELS = np.iinfo(np.uint16).max


@dataclass(frozen=True)
class CompactDesign:
    """Columns of n rows: those of numbers, and for every term with levels those of each row's level.

    numbers : (n, m); number_columns : (m,), the column each number fills, -1 where it is kept and fills none;
    shifts : (m,), taken off the numbers; places : (n, t), each row's level of each term; tables : columns of the
    levels of all terms, one term below the other; firsts, begins, widths : (t,), a term's first row in `tables`, its
    first column and its number of columns.
    """

    numbers: Floats
    number_columns: Integers
    shifts: Floats
    places: Places
    tables: Floats
    firsts: Integers
    begins: Integers
    widths: Integers

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.numbers.shape[0], int(np.sum(self.number_columns >= 0) + self.widths.sum())

    def __getitem__(self, rows: slice | Integers) -> CompactDesign:
        """The same for some rows."""
        return replace(self, numbers=self.numbers[rows], places=self.places[rows])

    def columns(self) -> Floats:
        """The columns made, (n, p)."""
        made = np.empty(self.shape)
        _fill(
            self.numbers,
            self.number_columns,
            self.shifts,
            self.places,
            self.tables,
            self.firsts,
            self.begins,
            self.widths,
            made,
        )
        return made

    def combined(self, coefficients: Floats) -> Floats:
        """Sums of coefficients (S, p) times columns, (S, n)."""
        found = np.empty((coefficients.shape[0], self.numbers.shape[0]))
        for one, own in zip(found, coefficients, strict=True):
            by_level = np.zeros(self.tables.shape[0])
            for first, last, begin, width in self._terms():
                by_level[first:last] = self.tables[first:last, :width] @ own[begin : begin + width]
            by_number = np.append(own, 0.0)[self.number_columns]
            start = -float(self.shifts @ by_number)
            _combine(self.numbers, by_number, start, self.places, by_level, self.firsts, one)
        return found

    def means(self) -> Floats:
        """Mean of every column, (p,)."""
        found = np.empty(self.shape[1])
        kept = self.number_columns >= 0
        found[self.number_columns[kept]] = (self.numbers.mean(axis=0) - self.shifts)[kept]
        for term, (first, last, begin, width) in enumerate(self._terms()):
            shares = np.bincount(self.places[:, term], minlength=last - first) / self.places.shape[0]
            found[begin : begin + width] = shares @ self.tables[first:last, :width]
        return found

    def less(self, centres: Floats) -> CompactDesign:
        """The same with centres (p,) taken off the columns."""
        shifts = self.shifts + np.append(centres, 0.0)[self.number_columns]
        tables = self.tables.copy()
        for first, last, begin, width in self._terms():
            tables[first:last, :width] -= centres[begin : begin + width]
        return replace(self, shifts=shifts, tables=tables)

    def led_by_first_number(self) -> CompactDesign:
        """The same with the first number, which filled no column, as the first column."""
        number_columns = np.where(self.number_columns >= 0, self.number_columns + 1, -1)
        number_columns[0] = 0
        return replace(self, number_columns=number_columns, begins=self.begins + 1)

    def _terms(self) -> list[tuple[int, int, int, int]]:
        """(first row and end in `tables`, first column, columns) of each term."""
        ends = np.append(self.firsts, self.tables.shape[0])[1:]
        return list(zip(self.firsts.tolist(), ends.tolist(), self.begins.tolist(), self.widths.tolist(), strict=True))


def compact_design(first_number: Floats, terms: Sequence[Term], rows: pl.DataFrame) -> CompactDesign:
    """The terms' columns of the rows, term after term; `first_number` (n,) is kept beside them and fills none."""
    numbers, number_columns, shifts = [first_number], [-1], [0.0]
    places: list[Integers] = []
    tables: list[Floats] = []
    begins: list[int] = []
    widest = max((term.width for term in terms), default=0)
    begin = 0
    for term in terms:
        if term.coding is None:
            numbers.append(rows[term.column].cast(pl.Float64).fill_null(term.centre).to_numpy())
            number_columns.append(begin)
            shifts.append(term.centre)
        else:
            places.append(term.level_index(rows).astype(np.uint16))
            with_average = np.zeros((len(term.levels) + 1, widest))
            with_average[:-1, : term.width] = term.coding
            tables.append(with_average)
            begins.append(begin)
        begin += term.width
    lengths = [table.shape[0] for table in tables]
    return CompactDesign(
        np.column_stack(numbers),
        np.array(number_columns, dtype=np.int64),
        np.array(shifts),
        np.column_stack(places) if places else np.empty((rows.height, 0), dtype=np.uint16),
        np.vstack(tables) if tables else np.empty((0, 0)),
        np.cumsum([0, *lengths[:-1]]).astype(np.int64)[: len(tables)],
        np.array(begins, dtype=np.int64),
        np.array([term.width for term in terms if term.coding is not None], dtype=np.int64),
    )


@njit(cache=True, parallel=True)
def _fill(
    numbers: Floats,
    number_columns: Integers,
    shifts: Floats,
    places: Places,
    tables: Floats,
    firsts: Integers,
    begins: Integers,
    widths: Integers,
    made: Floats,
) -> None:
    for i in prange(made.shape[0]):
        for j in range(number_columns.size):
            if number_columns[j] >= 0:
                made[i, number_columns[j]] = numbers[i, j] - shifts[j]
        for t in range(firsts.size):
            row = firsts[t] + places[i, t]
            for c in range(widths[t]):
                made[i, begins[t] + c] = tables[row, c]


@njit(cache=True, parallel=True)
def _combine(
    numbers: Floats,
    by_number: Floats,
    start: float,
    places: Places,
    by_level: Floats,
    firsts: Integers,
    found: Floats,
) -> None:
    for i in prange(found.size):
        total = start
        for j in range(by_number.size):
            total += by_number[j] * numbers[i, j]
        for t in range(firsts.size):
            total += by_level[firsts[t] + places[i, t]]
        found[i] = total
