"""Encoding of covariates as design columns: learnt once from the drains, then applied to any rows.

Levels have orthonormal sum-to-zero contrasts, so that every level has the same prior. Spring types, oil grades and
surfaces have a fixed prior sd; riders, raters and sites have an sd that is estimated. The age of the part has a prior
of its own, whose mean is not zero. A missing value or an unknown level is a row of zeros, which is the average; the
uncertainty of an unknown level is added by the prediction.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.linalg import helmert

from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.settings import Priors

DRIFT_SD = 2.0
"""Prior sd of a rater's drift in a year, on the scale of the logit link: about one level."""


@dataclass(frozen=True)
class Term:
    """One covariate of the rating model.

    column : name in the rows; label : its words for people; kind : contrast, pooled, number, age or drift; levels :
    empty without levels; contrasts : (levels, width), the design row of each level, None without levels. The column
    of a number is (value - centre) / scale, with the mean over the drains as centre; largest : its largest value
    there; rater, steps : whose drift it is, and its number of columns.
    """

    column: str
    label: str
    kind: str
    levels: tuple[str, ...] = ()
    contrasts: Floats | None = None
    centre: float = 0.0
    scale: float = 1.0
    largest: float = np.inf
    rater: str = ""
    steps: int = 0

    @property
    def width(self) -> int:
        """Number of design columns."""
        if self.kind == "drift":
            return self.steps
        return 1 if self.contrasts is None else int(self.contrasts.shape[1])

    def encode(self, rows: pl.DataFrame) -> Floats:
        """Design columns of the rows, (n, width); of a drift those of the rater's average, which are zero."""
        if self.kind == "drift":
            return np.zeros((rows.height, self.steps))
        if self.contrasts is None:
            values = rows[self.column].cast(pl.Float64).fill_null(self.centre).to_numpy()
            return np.asarray(values / self.scale - self.centre / self.scale).reshape(-1, 1)
        with_average = np.vstack((self.contrasts, np.zeros(self.width)))
        return with_average[self.level_indices(rows)]

    def level_indices(self, rows: pl.DataFrame) -> Integers:
        """Index of each row's level, (n,). A missing or unknown level has the number of levels as its index."""
        names, unknown = list(self.levels), len(self.levels)
        column = rows[self.column].cast(pl.String)
        return column.replace_strict(names, list(range(unknown)), default=unknown, return_dtype=pl.Int64).to_numpy()


def contrast_term(column: str, label: str, rows: pl.DataFrame) -> Term:
    """A term over the levels that occur, with a fixed prior sd."""
    return _term_of_levels(column, label, rows, kind="contrast")


def pooled_term(column: str, label: str, rows: pl.DataFrame) -> Term:
    """A term over the levels that occur, whose sd is estimated.

    The mean of the levels is left to the thresholds, so that no direction is determined by the prior alone.
    """
    return _term_of_levels(column, label, rows, kind="pooled")


def number_term(column: str, label: str, rows: pl.DataFrame) -> Term:
    """A numeric term, centred on its mean over the drains."""
    return Term(column, label, "number", centre=float(rows[column].cast(pl.Float64).mean()))  # type: ignore[arg-type]


def age_term(column: str, label: str, rows: pl.DataFrame) -> Term:
    """The hours on the part, in lives: the median over parts of the hours at the last drain.

    rows : with unit_key and part_life, which distinguish the parts.
    """
    life = rows.select("unit_key", "part_life").unique()["part_life"].median()
    centre, largest = rows[column].mean(), rows[column].max()
    scale = life or 1.0  # it is 0 where all hours are asked about
    return Term(column, label, "age", centre=centre, scale=scale, largest=largest)  # type: ignore[arg-type]


def drift_term(rater: str, steps: int) -> Term:
    """The random walk of a rater's effect over time, one column a step."""
    return Term(f"drift of {rater}", f"drift of {rater}", "drift", rater=rater, steps=steps)


def prior_mean(term: Term, priors: Priors) -> float:
    """Prior mean of a term's coefficients, for the logit link."""
    return priors.part_age if term.kind == "age" else 0.0


def prior_scale(term: Term, priors: Priors) -> float:
    """Factor on the prior sd of a term's columns, with which each level of a contrast gets the full sd."""
    if term.kind == "age":
        return priors.part_age_sd / priors.coefficient_sd
    if term.kind == "drift":
        return DRIFT_SD / priors.coefficient_sd
    levels = len(term.levels)
    return float(np.sqrt(levels / (levels - 1))) if term.kind == "contrast" else 1.0


def _term_of_levels(column: str, label: str, rows: pl.DataFrame, *, kind: str) -> Term:
    levels = tuple(rows[column].cast(pl.String).drop_nulls().unique().sort().to_list())
    return Term(column, label, kind, levels, np.ascontiguousarray(helmert(len(levels)).T))
