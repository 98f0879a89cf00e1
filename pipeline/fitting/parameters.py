"""Working parameters: an unbounded vector in which the fit moves, and how it maps to the natural one.

Working: first threshold; logs of the gaps between thresholds; one number a design column; log spread of each pooled
group; log spread between units. Pooled columns (riders, raters, sites) are numbers with unit variance times their
group's spread, which keeps the posterior's shape mild when a group has few levels (Papaspiliopoulos, Roberts &
Skold 2007, Stat. Sci. 22, 59-73). Under maximum likelihood slope and spread stay untransformed: a spread of zero is
then an ordinary stationary point.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]


@dataclass(frozen=True)
class ParameterPlan:
    """Which working parameter is what.

    levels : K; columns : p; hours_column : index of the log hours among the columns, or None; pooled : groups of
    column indices; has_units; logs : slope and spread move as logs (with a prior) or as they are (without).
    """

    levels: int
    columns: int
    hours_column: int | None
    pooled: tuple[tuple[int, ...], ...]
    has_units: bool
    logs: bool

    @property
    def gaps(self) -> slice:
        """Logs of the gaps between thresholds."""
        return slice(1, self.levels - 1)

    @property
    def coefficients(self) -> slice:
        """One for each design column."""
        return slice(self.levels - 1, self.levels - 1 + self.columns)

    @property
    def group_spreads(self) -> slice:
        """Log spread of each pooled group."""
        first = self.levels - 1 + self.columns
        return slice(first, first + len(self.pooled))

    @property
    def size(self) -> int:
        """Number of working parameters."""
        return self.levels - 1 + self.columns + len(self.pooled) + int(self.has_units)

    @property
    def hours(self) -> int | None:
        """Place of the hours slope."""
        return None if self.hours_column is None else self.levels - 1 + self.hours_column

    @property
    def natural_size(self) -> int:
        """Number of natural parameters."""
        return self.levels - 1 + self.columns + int(self.has_units)

    def natural(self, working: Floats) -> Floats:
        """Natural parameters of working ones; works on one vector or on draws (S, size)."""
        rows = np.atleast_2d(working)
        gaps = np.exp(np.minimum(rows[:, self.gaps], 50.0))
        thresholds = np.cumsum(np.hstack((rows[:, :1], gaps)), axis=1)
        coefficients = rows[:, self.coefficients].copy()
        for g, members in enumerate(self.pooled):
            coefficients[:, members] *= np.exp(rows[:, self.group_spreads])[:, [g]]
        if self.hours_column is not None and self.logs:
            coefficients[:, self.hours_column] = np.exp(coefficients[:, self.hours_column])
        parts = [thresholds, coefficients]
        if self.has_units:
            parts.append(np.exp(rows[:, -1:]) if self.logs else rows[:, -1:])
        return np.hstack(parts).reshape((*working.shape[:-1], self.natural_size))

    def jacobian(self, working: Floats) -> Floats:
        """d natural / d working, shape (natural_size, size)."""
        k = self.levels - 1
        matrix = np.zeros((self.natural_size, self.size))
        matrix[:k, 0] = 1.0
        gaps = np.exp(working[self.gaps])
        matrix[:k, self.gaps] = np.tril(np.tile(gaps, (k, 1)), -1)
        place = np.arange(self.coefficients.start, self.coefficients.stop)
        matrix[place, place] = 1.0
        for g, members in enumerate(self.pooled):
            spread = np.exp(working[self.group_spreads.start + g])
            rows = k + np.array(members)
            matrix[rows, rows] = spread
            matrix[rows, self.group_spreads.start + g] = working[rows] * spread
        if self.logs and self.hours is not None:
            matrix[self.hours, self.hours] = np.exp(working[self.hours])
        if self.has_units:
            matrix[-1, -1] = np.exp(working[-1]) if self.logs else 1.0
        return matrix

    def bend(self, working: Floats, gradient: Floats) -> Floats:
        """Sum over natural parameters of gradient times second derivative by working ones, (size, size)."""
        k = self.levels - 1
        matrix = np.zeros((self.size, self.size))
        later = np.cumsum(gradient[:k][::-1])[::-1]
        inner = np.arange(1, k)
        matrix[inner, inner] = later[1:] * np.exp(working[self.gaps])
        for g, members in enumerate(self.pooled):
            at = self.group_spreads.start + g
            spread = np.exp(working[at])
            rows = k + np.array(members)
            matrix[rows, at] = matrix[at, rows] = gradient[rows] * spread
            matrix[at, at] = np.sum(gradient[rows] * working[rows]) * spread
        if self.logs and self.hours is not None:
            matrix[self.hours, self.hours] = gradient[self.hours] * np.exp(working[self.hours])
        if self.logs and self.has_units:
            matrix[-1, -1] = gradient[-1] * np.exp(working[-1])
        return matrix
