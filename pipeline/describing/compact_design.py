"""The design of many drains in little memory: level indices instead of columns, made dense for some rows at a time.

All rows with the same level of a term have the same columns, so a row needs only the index of its level: two bytes
instead of a number for each contrast.
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

LevelIndices = NDArray[np.uint16]

MOST_LEVELS = np.iinfo(np.uint16).max


@dataclass(frozen=True)
class CompactDesign:
    """A design of n rows from m numbers, of which the first is the log hours, and t terms with levels.

    numbers : (n, m)
    number_columns : (m,), the design column of each number, -1 for one that has none
    shifts : (m,), subtracted from the numbers
    levels : (n, t), index of each row's level of each term
    contrasts : design rows of the levels, term below term
    first_rows, first_columns, widths : (t,), each term's first row in `contrasts`, its first design column and its
    number of columns
    """

    numbers: Floats
    number_columns: Integers
    shifts: Floats
    levels: LevelIndices
    contrasts: Floats
    first_rows: Integers
    first_columns: Integers
    widths: Integers

    @property
    def shape(self) -> tuple[int, int]:
        """Numbers of rows and columns."""
        return self.numbers.shape[0], int(np.sum(self.number_columns >= 0) + self.widths.sum())

    def __getitem__(self, rows: slice | Integers) -> CompactDesign:
        """The design of some rows."""
        return replace(self, numbers=self.numbers[rows], levels=self.levels[rows])

    def columns(self) -> Floats:
        """The dense columns, (n, p)."""
        dense = np.empty(self.shape)
        _fill(
            self.numbers,
            self.number_columns,
            self.shifts,
            self.levels,
            self.contrasts,
            self.first_rows,
            self.first_columns,
            self.widths,
            dense,
        )
        return dense

    def combined(self, coefficients: Floats) -> Floats:
        """Linear predictors (S, n) of coefficients (S, p)."""
        predictors = np.empty((coefficients.shape[0], self.numbers.shape[0]))
        for predictor, draw in zip(predictors, coefficients, strict=True):
            by_level = np.zeros(self.contrasts.shape[0])
            for first, last, begin, width in self._terms():
                by_level[first:last] = self.contrasts[first:last, :width] @ draw[begin : begin + width]
            by_number = np.append(draw, 0.0)[self.number_columns]
            start = -float(self.shifts @ by_number)
            _combine(self.numbers, by_number, start, self.levels, by_level, self.first_rows, predictor)
        return predictors

    def means(self) -> Floats:
        """Mean of every column, (p,)."""
        column_means = np.empty(self.shape[1])
        kept = self.number_columns >= 0
        column_means[self.number_columns[kept]] = (self.numbers.mean(axis=0) - self.shifts)[kept]
        for term, (first, last, begin, width) in enumerate(self._terms()):
            shares = np.bincount(self.levels[:, term], minlength=last - first) / self.levels.shape[0]
            column_means[begin : begin + width] = shares @ self.contrasts[first:last, :width]
        return column_means

    def minus(self, centres: Floats) -> CompactDesign:
        """The design with centres (p,) subtracted from its columns."""
        shifts = self.shifts + np.append(centres, 0.0)[self.number_columns]
        contrasts = self.contrasts.copy()
        for first, last, begin, width in self._terms():
            contrasts[first:last, :width] -= centres[begin : begin + width]
        return replace(self, shifts=shifts, contrasts=contrasts)

    def with_term(self, levels: Integers, contrasts: Floats) -> CompactDesign:
        """The design with one more term, whose columns come last.

        levels : (n,), index of each row's level; contrasts : (levels, width), its columns
        """
        tables = (self.contrasts, contrasts)
        widest = max(table.shape[1] for table in tables)
        return replace(
            self,
            levels=np.column_stack((self.levels, levels.astype(np.uint16))),
            contrasts=np.vstack([np.pad(table, ((0, 0), (0, widest - table.shape[1]))) for table in tables]),
            first_rows=np.append(self.first_rows, self.contrasts.shape[0]),
            first_columns=np.append(self.first_columns, self.shape[1]),
            widths=np.append(self.widths, contrasts.shape[1]),
        )

    def with_log_hours(self) -> CompactDesign:
        """The design with the log hours, which had no column, as its first column."""
        number_columns = np.where(self.number_columns >= 0, self.number_columns + 1, -1)
        number_columns[0] = 0
        return replace(self, number_columns=number_columns, first_columns=self.first_columns + 1)

    def _terms(self) -> list[tuple[int, int, int, int]]:
        """(first row and end in `contrasts`, first column, number of columns) of each term."""
        starts, ends = self.first_rows.tolist(), [*self.first_rows.tolist(), self.contrasts.shape[0]][1:]
        return list(zip(starts, ends, self.first_columns.tolist(), self.widths.tolist(), strict=True))


def compact_design(log_hours: Floats, terms: Sequence[Term], *, rows: pl.DataFrame) -> CompactDesign:
    """The columns of the terms, in their order; the log hours (n,) are held beside them and have no column yet."""
    numbers, number_columns, shifts = [log_hours], [-1], [0.0]
    levels: list[LevelIndices] = []
    contrasts: list[Floats] = []
    first_columns: list[int] = []
    widest = max((term.width for term in terms), default=0)
    column = 0
    for term in terms:
        if term.contrasts is None:
            numbers.append(rows[term.column].cast(pl.Float64).fill_null(term.centre).to_numpy() / term.scale)
            number_columns.append(column)
            shifts.append(term.centre / term.scale)
        else:
            levels.append(term.level_indices(rows).astype(np.uint16))
            with_average = np.zeros((len(term.levels) + 1, widest))
            with_average[:-1, : term.width] = term.contrasts
            contrasts.append(with_average)
            first_columns.append(column)
        column += term.width
    lengths = [table.shape[0] for table in contrasts]
    return CompactDesign(
        np.column_stack(numbers),
        np.array(number_columns, dtype=np.int64),
        np.array(shifts),
        np.column_stack(levels) if levels else np.empty((rows.height, 0), dtype=np.uint16),
        np.vstack(contrasts) if contrasts else np.empty((0, 0)),
        np.cumsum([0, *lengths[:-1]]).astype(np.int64)[: len(contrasts)],
        np.array(first_columns, dtype=np.int64),
        np.array([term.width for term in terms if term.contrasts is not None], dtype=np.int64),
    )


@njit(cache=True, parallel=True)
def _fill(
    numbers: Floats,
    number_columns: Integers,
    shifts: Floats,
    levels: LevelIndices,
    contrasts: Floats,
    first_rows: Integers,
    first_columns: Integers,
    widths: Integers,
    dense: Floats,
) -> None:
    for i in prange(dense.shape[0]):
        for j in range(number_columns.size):
            if number_columns[j] >= 0:
                dense[i, number_columns[j]] = numbers[i, j] - shifts[j]
        for t in range(first_rows.size):
            row = first_rows[t] + levels[i, t]
            for c in range(widths[t]):
                dense[i, first_columns[t] + c] = contrasts[row, c]


@njit(cache=True, parallel=True)
def _combine(
    numbers: Floats,
    by_number: Floats,
    start: float,
    levels: LevelIndices,
    by_level: Floats,
    first_rows: Integers,
    predictors: Floats,
) -> None:
    for i in prange(predictors.size):
        total = start
        for j in range(by_number.size):
            total += by_number[j] * numbers[i, j]
        for t in range(first_rows.size):
            total += by_level[first_rows[t] + levels[i, t]]
        predictors[i] = total
