"""Whether two springs can be separated from other columns: riders, oils, sites, the calendar and the rest."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import polars as pl

from draincurve.pipeline.judging.estimable_contrasts import (
    PERIOD,
    WIDEST,
    Columns,
    contrast_columns,
    contrast_errors,
    difference,
)

SPRING = "spring_type"

LEVEL_TERMS = {
    "rider": "rider",
    "oil_grade": "oil",
    "site": "site",
    "surface": "surface",
    "chamber": "chamber",
    "rated_by": "rater",
    PERIOD: "calendar",
}
"""Columns of the log whose levels may be confounded with a spring, and what they are called."""

NUMBER_TERMS = {
    "log_hours": "hours on the oil",
    "settling": "settling time",
    "freshness": "run-in of the spring",
    "carry_over": "old oil left behind",
    "part_age": "hours on the part",
}


@dataclass(frozen=True)
class Separation:
    """Whether a pair can be separated, and the columns with which it is confounded.

    widening : standard error of the pair's contrast with all columns over that without; infinite where the pair is
    not estimable. by : the columns that prevent the separation, or else the one that inflates the error most.
    together : whether it takes all columns of `by`, and no single one would do.
    """

    widening: float
    by: tuple[str, ...]
    together: bool = False

    @property
    def separable(self) -> bool:
        """Whether the log separates the two springs by more than a few drains."""
        return self.widening <= WIDEST


def design_columns(rows: pl.DataFrame) -> Columns:
    """The columns of comparable drains; rows : the drains with their conditions."""
    numbered = rows.with_columns(pl.col("oil_hours").log().alias("log_hours"))
    levels = tuple(name for name in LEVEL_TERMS if name != PERIOD)
    return contrast_columns(numbered, (SPRING, *levels), numbers=tuple(NUMBER_TERMS))


def separation(columns: Columns, first: str, *, second: str) -> Separation:
    """How well two springs are separated from all other columns except units, whose effects are random in the fit."""
    terms = [*LEVEL_TERMS, *NUMBER_TERMS]
    bare = _error(columns, first, second=second, terms=[])
    widening = _error(columns, first, second=second, terms=terms) / bare
    if widening <= 1.0:
        return Separation(1.0, ())
    alone = {term: _error(columns, first, second=second, terms=[term]) / bare for term in terms}
    inestimable = tuple(term for term in terms if np.isinf(alone[term]))
    worst = max(terms, key=lambda term: alone[term])
    if inestimable or widening <= WIDEST or alone[worst] > WIDEST:
        return Separation(widening, inestimable or (worst,))
    return Separation(
        widening, _fewest(columns, first, second=second, terms=terms, limit=WIDEST * bare), together=True
    )


def _fewest(columns: Columns, first: str, *, second: str, terms: list[str], limit: float) -> tuple[str, ...]:
    """Two terms that together inflate the standard error over the limit, else all of them."""
    for pair in combinations(terms, 2):
        if _error(columns, first, second=second, terms=list(pair)) > limit:
            return pair
    return tuple(terms)


def _error(columns: Columns, first: str, *, second: str, terms: list[str]) -> float:
    """Standard error of the difference of two springs, adjusted for these terms."""
    contrast = difference(columns, SPRING, first=first, second=second)
    return float(contrast_errors(columns, contrast[None], terms=(SPRING, *terms))[0])
