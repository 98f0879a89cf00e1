"""Validated input of the rating model: shapes and values, levels that occur, units, design columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike

from draincurve.pipeline.describing import CompactDesign
from draincurve.pipeline.fitting.likelihood import slices_without_units
from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.errors import FitError

Ordered = TypeVar("Ordered", Integers, CompactDesign)

MOST_NODES = 99
_COLLINEAR = 1e-6  # share of a column's length that must be orthogonal to the columns before it


@dataclass(frozen=True)
class RatingInput:
    """Validated input.

    low, high : (n,), from 1 to `levels`; columns : (n, p), the log hours first if there are any, as an array or coded
    as in a large log
    """

    low: Integers
    high: Integers
    columns: Floats | CompactDesign
    levels: int
    has_hours: bool
    column_names: tuple[str, ...] = ()

    def column_name(self, index: int) -> str:
        """The column's name in messages."""
        if self.has_hours and index == 0:
            return "log_hours"
        column = index - int(self.has_hours)
        return self.column_names[column] if self.column_names else f"design column {column + 1}"

    def means(self) -> Floats:
        """Mean of every column, (p,)."""
        return self.columns.means() if isinstance(self.columns, CompactDesign) else self.columns.mean(axis=0)

    def centred(self, centres: Floats, order: Integers) -> Floats | CompactDesign:
        """Columns less their centres (p,), rows in another order."""
        if isinstance(self.columns, CompactDesign):
            return in_order(self.columns.minus(centres), order)
        return np.ascontiguousarray((self.columns - centres)[order])


def checked_input(
    ratings: ArrayLike,
    ratings_high: ArrayLike | None,
    *,
    log_hours: ArrayLike | None,
    design: ArrayLike | CompactDesign | None,
    levels: int | None,
    column_names: Sequence[str],
) -> RatingInput:
    """Check shapes and values; raises FitError that says what was expected. Arguments as in `fit_rating_model`."""
    low = _whole_numbers("ratings", ratings)
    if low.size == 0:
        raise FitError(f"ratings: expected a list of at least one rating, found shape {low.shape}")
    high = low if ratings_high is None else _whole_numbers("ratings_high", ratings_high)
    k = int(high.max()) if levels is None else int(levels)
    if low.min() < 1 or high.max() > k or high.shape != low.shape or np.any(high < low):
        raise FitError(f"ratings: expected 1 to {k}, with each range's lower end first")
    if k < 2:
        raise FitError("ratings: all are 1 and no other level is known; say how many levels there are (levels=5)")
    columns = []
    if isinstance(design, CompactDesign):
        if log_hours is None or design.shape[0] != low.size or not np.all(np.isfinite(design.numbers)):
            raise FitError(f"design: expected {low.size} rows of finite numbers, with the log hours first among them")
        return RatingInput(low, high, design.with_log_hours(), k, has_hours=True)
    if log_hours is not None:
        hours = _numbers("log_hours", log_hours)
        if hours.shape != low.shape:
            raise FitError(f"log_hours: expected {low.size} values, one a rating, found shape {hours.shape}")
        columns.append(hours[:, None])
    if design is not None:
        matrix = _numbers("design", design)
        matrix = matrix[:, None] if matrix.ndim == 1 else matrix
        if matrix.ndim != 2 or matrix.shape[0] != low.size:
            raise FitError(f"design: expected {low.size} rows, one a rating, found shape {matrix.shape}")
        columns.append(matrix)
    together = np.hstack(columns) if columns else np.empty((low.size, 0))
    return RatingInput(low, high, together, k, log_hours is not None, tuple(column_names))


def check_options(
    n_nodes: int, pooled: Sequence[Sequence[int]], *, scales: Floats, means: Floats, design_columns: int
) -> None:
    """Raise FitError for an impossible number of nodes, pooled columns, factors on prior sds or prior means."""
    if isinstance(n_nodes, bool) or n_nodes != int(n_nodes) or not 1 <= n_nodes <= MOST_NODES:
        raise FitError(f"n_nodes = {n_nodes}: expected a whole number from 1 to {MOST_NODES}")
    members = [int(column) for group in pooled for column in group]
    if len(set(members)) < len(members) or any(not 0 <= column < design_columns for column in members):
        raise FitError(f"pooled: expected columns 0 to {design_columns - 1} of the design, each at most once")
    if scales.shape != (design_columns,) or not np.all(np.isfinite(scales) & (scales > 0)):
        raise FitError(f"column_scales: expected {design_columns} numbers above 0, one a design column")
    if means.shape != (design_columns,) or not np.all(np.isfinite(means)):
        raise FitError(f"column_means: expected {design_columns} numbers, one a design column")


def refuse_unused_levels(data: RatingInput) -> None:
    """Raise FitError for a level of the scale that no rating uses.

    A level at which no rating begins, or at which none ends, gets probability zero: its threshold is infinite, or
    equal to the next one (Turnbull 1976, J. R. Stat. Soc. B 38, 290-295).
    """
    scale = np.arange(1, data.levels + 1)
    unseen = scale[~(np.isin(scale, data.low) & np.isin(scale, data.high))]
    if unseen.size:
        raise FitError(
            f"ratings: on the scale 1 to {data.levels} nothing is rated {' or '.join(map(str, unseen))} (other than "
            "inside wider ranges), so maximum likelihood gives it probability zero; give a prior, or number the "
            "levels that do occur from 1 up"
        )


def by_unit(units: ArrayLike | None, rows: int) -> tuple[Integers, Integers, tuple[object, ...]]:
    """(order that sorts rows by unit, slice bounds, labels); raises FitError for missing labels."""
    if units is None:
        return np.arange(rows), slices_without_units(rows), ()
    given = np.asarray(units)
    if given.shape != (rows,):
        raise FitError(f"units: expected {rows} labels, one a rating, found shape {given.shape}")
    missing = np.not_equal(given, given)
    if given.dtype == object:
        missing |= np.equal(given, np.array(None, dtype=object))
    if missing.any():
        raise FitError(f"units: row {np.flatnonzero(missing)[0] + 1} has no label; leave such rows out first")
    try:
        if rows and not np.any(given[1:] < given[:-1]):  # sorted already, as large logs are
            starts = np.concatenate(([0], np.flatnonzero(given[1:] != given[:-1]) + 1, [rows]))
            return np.arange(rows), starts.astype(np.int64), tuple(given[starts[:-1]].tolist())
        labels, index = np.unique(given, return_inverse=True)
    except TypeError as fault:
        raise FitError("units: expected labels of one kind, all text or all numbers") from fault
    counts = np.bincount(index, minlength=labels.size)
    return np.argsort(index, kind="stable"), np.concatenate(([0], np.cumsum(counts))), tuple(labels.tolist())


def in_order(values: Ordered, order: Integers) -> Ordered:
    """Rows in another order; the values themselves, not a copy, where the order does not change."""
    return values if np.array_equal(order, np.arange(order.size)) else values[order]


def refuse_unidentified_columns(data: RatingInput) -> None:
    """Raise FitError for a column that is constant, or a linear combination of the columns before it."""
    columns = data.columns.columns() if isinstance(data.columns, CompactDesign) else data.columns
    centred = columns - columns.mean(axis=0)
    size = np.linalg.norm(columns, axis=0)
    length = np.linalg.norm(centred, axis=0)
    for index in np.flatnonzero(length <= 1e-12 * np.maximum(size, 1e-300)):
        raise FitError(
            f"{data.column_name(int(index))} is the same in every row, so its effect cannot be seen; "
            "leave it out or give a prior"
        )
    rest = np.abs(np.diag(np.linalg.qr(centred / length, mode="r"))) if columns.shape[1] else np.empty(0)
    bare = np.concatenate((rest, np.zeros(columns.shape[1] - rest.size)))
    for index in np.flatnonzero(bare < _COLLINEAR):
        raise FitError(
            f"{data.column_name(int(index))} cannot be distinguished from the columns before it; "
            "leave it out or give a prior"
        )


def _numbers(name: str, values: ArrayLike) -> Floats:
    try:
        numbers = np.asarray(values, dtype=float)
    except (TypeError, ValueError) as fault:
        raise FitError(f"{name}: expected numbers ({fault})") from fault
    if not np.all(np.isfinite(numbers)):
        raise FitError(f"{name}: found a missing or infinite value; leave such rows out first")
    return numbers


def _whole_numbers(name: str, values: ArrayLike) -> Integers:
    if isinstance(values, np.ndarray) and values.dtype == np.int64 and values.ndim == 1:
        return values
    numbers = _numbers(name, values)
    if numbers.ndim != 1:
        raise FitError(f"{name}: expected a list of ratings, one a drain, found shape {numbers.shape}")
    if np.any(numbers != np.round(numbers)):
        raise FitError(f"{name}: expected whole numbers from 1 up")
    return numbers.astype(np.int64)
