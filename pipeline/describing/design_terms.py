"""How a column of the log becomes columns of the design: learnt once from the drains, replayed on units.

All levels are coded sum-to-zero with orthonormal contrasts, so that every level has the same prior; spring types,
grades and surfaces with a fixed prior, riders, raters and sites with a spread that is estimated. A missing value or
an unknown level is a row of zeros, the average; what an unseen level may turn out to be is added as spread by the
prediction.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.linalg import helmert

from draincurve.schemas.array_types import Floats, Integers


@dataclass(frozen=True)
class Term:
    """One covariate: the column it is read from, its words for people, its levels (none for a number).

    kind : contrast, pooled or number; coding : (levels, columns), the design rows of the levels; centre : mean of a
    number over the drains.
    """

    column: str
    label: str
    kind: str
    levels: tuple[str, ...] = ()
    coding: Floats | None = None
    centre: float = 0.0

    @property
    def width(self) -> int:
        """Number of design columns."""
        return 1 if self.coding is None else int(self.coding.shape[1])

    def encode(self, frame: pl.DataFrame) -> Floats:
        """Design columns of the rows of a frame, (rows, width)."""
        if self.coding is None:
            values = frame[self.column].cast(pl.Float64).fill_null(self.centre).to_numpy()
            return np.asarray(values - self.centre).reshape(-1, 1)
        with_average = np.vstack((self.coding, np.zeros(self.width)))
        return with_average[self.level_index(frame)]

    def level_index(self, frame: pl.DataFrame) -> Integers:
        """Place of each row's level, or the number of levels where it is missing or was never seen."""
        places = (
            frame[self.column]
            .cast(pl.String)
            .replace_strict(
                list(self.levels), list(range(len(self.levels))), default=len(self.levels), return_dtype=pl.Int64
            )
        )
        return places.to_numpy()


def contrast_term(column: str, label: str, frame: pl.DataFrame) -> Term:
    """A sum-to-zero term over the levels found."""
    levels = _levels(column, frame)
    return Term(column, label, "contrast", levels, np.ascontiguousarray(helmert(len(levels)).T))


def pooled_term(column: str, label: str, frame: pl.DataFrame) -> Term:
    """A sum-to-zero term over the levels found, whose spread is estimated.

    Taking the mean of the levels out loses nothing, since the thresholds take it up, and leaves no direction that
    only the prior knows.
    """
    levels = _levels(column, frame)
    return Term(column, label, "pooled", levels, np.ascontiguousarray(helmert(len(levels)).T))


def number_term(column: str, label: str, frame: pl.DataFrame) -> Term:
    """A numeric term, centred on its mean over the drains."""
    return Term(column, label, "number", centre=float(frame[column].cast(pl.Float64).mean()))  # type: ignore[arg-type]


def prior_scale(term: Term) -> float:
    """Factor on the prior sd of a term's columns, by which each level of a contrast gets the full sd."""
    levels = len(term.levels)
    return float(np.sqrt(levels / (levels - 1))) if term.kind == "contrast" else 1.0


def _levels(column: str, frame: pl.DataFrame) -> tuple[str, ...]:
    return tuple(frame[column].cast(pl.String).drop_nulls().unique().sort().to_list())
