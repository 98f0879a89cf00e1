"""Working parameters: the unbounded vector over which the fit maximises, and its map to the natural parameters.

Working parameters, in this order: the first threshold; logs of the gaps between thresholds; one coefficient for each
design column; the log standard deviation of each pooled group; the log standard deviation between units. Coefficients
of pooled columns (riders, raters, sites) are standardised: the natural one is the working one times its group's
standard deviation. This non-centred form keeps the posterior close to normal where a group has few levels
(Papaspiliopoulos, Roberts & Skold 2007, Stat. Sci. 22, 59-73). Under maximum likelihood the hours slope and the
standard deviation between units are not transformed, so that a standard deviation of zero is an ordinary stationary
point.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from draincurve.schemas.array_types import Floats, Integers


@dataclass(frozen=True)
class ParameterLayout:
    """The position of each working parameter.

    levels : K; columns : p; hours_column : index of the log hours among the columns, or None; pooled : column indices
    of each pooled group; has_units : whether the last parameter is the standard deviation between units; log_scale :
    whether hours slope and that standard deviation are taken as logs (with a prior) or as they are (without).
    """

    levels: int
    columns: int
    hours_column: int | None
    pooled: tuple[tuple[int, ...], ...]
    has_units: bool
    log_scale: bool

    @property
    def gaps(self) -> slice:
        """Logs of the gaps between thresholds."""
        return slice(1, self.levels - 1)

    @property
    def coefficients(self) -> slice:
        """One for each design column."""
        return slice(self.levels - 1, self.levels - 1 + self.columns)

    @cached_property
    def pooled_coefficients(self) -> tuple[Integers, ...]:
        """Positions of each pooled group's coefficients."""
        return tuple(self.coefficients.start + np.array(group, dtype=np.int64) for group in self.pooled)

    @property
    def group_log_sds(self) -> slice:
        """Log standard deviation of each pooled group."""
        first = self.coefficients.stop
        return slice(first, first + len(self.pooled))

    @property
    def size(self) -> int:
        """Number of working parameters."""
        return self.levels - 1 + self.columns + len(self.pooled) + int(self.has_units)

    @property
    def hours_index(self) -> int | None:
        """Position of the hours slope."""
        return None if self.hours_column is None else self.coefficients.start + self.hours_column

    @property
    def natural_size(self) -> int:
        """Number of natural parameters."""
        return self.levels - 1 + self.columns + int(self.has_units)

    def natural(self, working: Floats) -> Floats:
        """Natural parameters of one working vector (size,), or of draws (S, size)."""
        rows = np.atleast_2d(working)
        gaps = np.exp(np.minimum(rows[:, self.gaps], 50.0))
        thresholds = np.cumsum(np.hstack((rows[:, :1], gaps)), axis=1)
        coefficients = rows[:, self.coefficients].copy()
        for g, members in enumerate(self.pooled):
            coefficients[:, members] *= np.exp(rows[:, self.group_log_sds])[:, [g]]
        if self.hours_column is not None and self.log_scale:
            coefficients[:, self.hours_column] = np.exp(coefficients[:, self.hours_column])
        parts = [thresholds, coefficients]
        if self.has_units:
            parts.append(np.exp(rows[:, -1:]) if self.log_scale else rows[:, -1:])
        return np.hstack(parts).reshape((*working.shape[:-1], self.natural_size))

    def jacobian(self, working: Floats) -> Floats:
        """d natural / d working, shape (natural_size, size)."""
        k = self.levels - 1
        matrix = np.zeros((self.natural_size, self.size))
        matrix[:k, 0] = 1.0
        gaps = np.exp(working[self.gaps])
        matrix[:k, self.gaps] = np.tril(np.tile(gaps, (k, 1)), -1)
        index = np.arange(self.coefficients.start, self.coefficients.stop)
        matrix[index, index] = 1.0
        for g, rows in enumerate(self.pooled_coefficients):
            sd = np.exp(working[self.group_log_sds.start + g])
            matrix[rows, rows] = sd
            matrix[rows, self.group_log_sds.start + g] = working[rows] * sd
        if self.log_scale and self.hours_index is not None:
            matrix[self.hours_index, self.hours_index] = np.exp(working[self.hours_index])
        if self.has_units:
            matrix[-1, -1] = np.exp(working[-1]) if self.log_scale else 1.0
        return matrix

    def second_order_term(self, working: Floats, gradient: Floats) -> Floats:
        """Sum over natural parameters of `gradient` times their Hessian by working ones, (size, size).

        The chain rule adds it to J'HJ, because the map is not linear.
        """
        k = self.levels - 1
        matrix = np.zeros((self.size, self.size))
        later = np.cumsum(gradient[:k][::-1])[::-1]
        inner = np.arange(1, k)
        matrix[inner, inner] = later[1:] * np.exp(working[self.gaps])
        for g, rows in enumerate(self.pooled_coefficients):
            position = self.group_log_sds.start + g
            sd = np.exp(working[position])
            matrix[rows, position] = matrix[position, rows] = gradient[rows] * sd
            matrix[position, position] = np.sum(gradient[rows] * working[rows]) * sd
        if self.log_scale and self.hours_index is not None:
            position = self.hours_index
            matrix[position, position] = gradient[position] * np.exp(working[position])
        if self.log_scale and self.has_units:
            matrix[-1, -1] = gradient[-1] * np.exp(working[-1])
        return matrix
