"""Which columns of a design add something to those before them, told from their products."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular

Floats = NDArray[np.float64]

NOTHING_NEW = 1e-3
"""Share of a column's length that must not lie in the span of the columns before it."""


class ColumnSpan:
    """The span of columns of n rows, as their Cholesky factor: products of columns cost one pass over the rows."""

    def __init__(self, rows: int) -> None:
        self._columns: list[Floats] = [np.empty((rows, 0))]
        self._factor: Floats = np.empty((0, 0))

    def extend(self, columns: Floats) -> bool:
        """Add to the span what new columns, (n, w), add; whether any of them adds something."""
        lengths = np.linalg.norm(columns, axis=0)
        unit = columns[:, lengths > 0] / lengths[lengths > 0]
        with_known = np.vstack([known.T @ unit for known in self._columns])
        among = unit.T @ unit
        taken: list[int] = []
        for j in range(unit.shape[1]):
            shared = np.concatenate((with_known[:, j], among[taken, j]))
            inside = solve_triangular(self._factor, shared, lower=True) if shared.size else shared
            left = 1.0 - float(inside @ inside)
            if left > NOTHING_NEW**2:
                size = self._factor.shape[0]
                factor = np.zeros((size + 1, size + 1))
                factor[:size, :size] = self._factor
                factor[size, :size] = inside
                factor[size, size] = np.sqrt(left)
                self._factor = factor
                taken.append(j)
        self._columns.append(np.ascontiguousarray(unit[:, taken]))
        return bool(taken)
