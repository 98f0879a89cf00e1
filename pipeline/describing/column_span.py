"""Which columns of a design add something to those before them, told from their products."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.linalg import solve_triangular

from draincurve.schemas.array_types import Floats

NOTHING_NEW = 1e-3
"""Share of a column's length that must not lie in the span of the columns before it."""


class ColumnSpan:
    """The span of some columns, as the Cholesky factor of their products.

    products : (p, p), sums over the rows of the products of all columns that may be asked about.
    """

    def __init__(self, products: Floats) -> None:
        lengths = np.sqrt(np.diag(products))
        self._there = lengths > 0
        unit = np.where(self._there, lengths, 1.0)
        self._shared = products / np.outer(unit, unit)
        self._taken: list[int] = []
        self._factor: Floats = np.empty((0, 0))

    def extend(self, columns: Sequence[int]) -> bool:
        """Add to the span what new columns, by their places, add; whether any of them adds something."""
        added = False
        for column in columns:
            if not self._there[column]:
                continue
            shared = self._shared[self._taken, column]
            inside = solve_triangular(self._factor, shared, lower=True) if shared.size else shared
            left = 1.0 - float(inside @ inside)
            if left > NOTHING_NEW**2:
                size = self._factor.shape[0]
                factor = np.zeros((size + 1, size + 1))
                factor[:size, :size] = self._factor
                factor[size, :size] = inside
                factor[size, size] = np.sqrt(left)
                self._factor = factor
                self._taken.append(column)
                added = True
        return added
