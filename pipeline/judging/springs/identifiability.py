"""Whether two springs can be separated from other columns: riders, oils, sites and the rest.

Levels are fixed effects here, without a prior: a contrast of two springs is estimable only where it is in the row
space of the design (Searle 1971, Linear Models, section 5.4). The factor by which the other columns inflate its
standard error measures how weakly the springs are separated.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import polars as pl
from scipy import sparse

from draincurve.schemas.array_types import Floats, Integers

LEVEL_TERMS = {
    "rider": "rider",
    "oil_grade": "oil",
    "site": "site",
    "surface": "surface",
    "chamber": "chamber",
    "rated_by": "rater",
}
"""Columns of the log whose levels may be confounded with a spring, and what they are called."""

NUMBER_TERMS = {
    "log_hours": "hours on the oil",
    "settling": "settling time",
    "freshness": "run-in of the spring",
    "carry_over": "old oil left behind",
}

WIDEST = 3.0
"""Largest inflation of a range by confounded columns; over it, a comparison depends on a few drains only."""

_SMALLEST_EIGENVALUE = 1e-8  # of the scaled cross-products; below it a direction is in the null space (length 1e-4)
_LEAST_NULL_SHARE = 1e-4  # of a contrast in the null space, over which it is not estimable


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


@dataclass(frozen=True)
class Columns:
    """Cross-products of all columns, scaled to unit diagonal, and the columns of each term."""

    gram: Floats
    term_columns: dict[str, Integers]
    springs: tuple[str, ...]
    lengths: Floats


def design_columns(rows: pl.DataFrame) -> Columns:
    """The columns of comparable drains; rows : the drains with their conditions."""
    numbered = rows.with_columns(pl.col("oil_hours").log().alias("log_hours"))
    blocks = {"": sparse.csr_array(np.ones((rows.height, 1)))}
    springs, blocks["spring_type"] = _indicators(numbered["spring_type"])
    for name in LEVEL_TERMS:
        blocks[name] = _indicators(numbered[name])[1]
    for name in NUMBER_TERMS:
        values = numbered[name].to_numpy()
        blocks[name] = sparse.csr_array((values - values.mean()).reshape(-1, 1))
    together = sparse.hstack(list(blocks.values())).tocsr()
    gram = (together.T @ together).toarray()
    lengths = np.sqrt(np.maximum(np.diag(gram), 1e-300))
    ends = np.cumsum([block.shape[1] for block in blocks.values()])
    term_columns = {
        name: np.arange(end - block.shape[1], end)
        for (name, block), end in zip(blocks.items(), ends.tolist(), strict=True)
    }
    return Columns(gram / np.outer(lengths, lengths), term_columns, springs, lengths)


def separation(columns: Columns, first: str, *, second: str) -> Separation:
    """How well two springs are separated from all other columns except units, whose effects are random in the fit."""
    terms = [*LEVEL_TERMS, *NUMBER_TERMS]
    bare = _contrast_error(columns, first, second=second, terms=[])
    widening = _contrast_error(columns, first, second=second, terms=terms) / bare
    if widening <= 1.0:
        return Separation(1.0, ())
    alone = {term: _contrast_error(columns, first, second=second, terms=[term]) / bare for term in terms}
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
        if _contrast_error(columns, first, second=second, terms=list(pair)) > limit:
            return pair
    return tuple(terms)


def _contrast_error(columns: Columns, first: str, *, second: str, terms: list[str]) -> float:
    """Standard error of the contrast for unit noise variance, adjusted for these terms; infinite if not estimable."""
    used = np.concatenate([columns.term_columns[name] for name in ("", "spring_type", *terms)])
    contrast = np.zeros(columns.lengths.size)
    spring = columns.term_columns["spring_type"]
    contrast[spring[columns.springs.index(first)]] = 1.0
    contrast[spring[columns.springs.index(second)]] = -1.0
    contrast = (contrast / columns.lengths)[used]
    values, vectors = np.linalg.eigh(columns.gram[np.ix_(used, used)])
    projected = vectors.T @ contrast
    null_space = values < _SMALLEST_EIGENVALUE * max(1.0, float(values[-1]))
    if np.linalg.norm(projected[null_space]) > _LEAST_NULL_SHARE * np.linalg.norm(projected):
        return float("inf")
    return float(np.sqrt(np.sum(projected[~null_space] ** 2 / values[~null_space])))


def _indicators(values: pl.Series) -> tuple[tuple[str, ...], sparse.csr_array]:
    """One column of zeros and ones for each level; a blank is a level of its own, since it may be any."""
    text = values.cast(pl.String).fill_null("\x00")
    levels = tuple(text.unique().sort().to_list())
    index_of = {level: index for index, level in enumerate(levels)}
    codes = np.array([index_of[value] for value in text.to_list()], dtype=np.int64)
    rows = np.arange(codes.size)
    return levels, sparse.csr_array((np.ones(codes.size), (rows, codes)), shape=(codes.size, len(levels)))
