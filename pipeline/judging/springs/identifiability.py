"""Whether two springs can be separated from other columns: riders, oils, sites and the rest.

Levels are taken as fixed here, without any prior: a contrast of two springs is estimable only where it is in the
row space of the design (Searle 1971, Linear Models, section 5.4), and by how much the other columns widen its
standard error says how thin the separation is.
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
"""Columns of the log whose levels may go with a spring, and their words."""

NUMBER_TERMS = {
    "log_hours": "hours on the oil",
    "settling": "settling time",
    "freshness": "run-in of the spring",
    "carry_over": "old oil left behind",
}

WIDEST = 3.0
"""A range that is so many times as wide because of what went with the springs rests on a few drains alone."""

_OPEN = 1e-8  # eigenvalue of the scaled cross-products under which a direction is not seen (a length of 1e-4)
_UNSEEN_SHARE = 1e-4


@dataclass(frozen=True)
class Separation:
    """Whether a pair can be separated; `by` names the columns that forbid it, or the one that widens it most.

    widening : standard error of the pair's contrast with all columns over that without; infinite where the pair is
    not estimable. together : no column of `by` alone would do it, only all of them.
    """

    widening: float
    by: tuple[str, ...]
    together: bool = False

    @property
    def separable(self) -> bool:
        """Whether the log itself separates the two springs, and not by a few drains alone."""
        return self.widening <= WIDEST


@dataclass(frozen=True)
class Columns:
    """Cross-products of all columns, scaled to unit diagonal, and the columns of each term."""

    gram: Floats
    places: dict[str, Integers]
    springs: tuple[str, ...]
    lengths: Floats


def design_columns(rows: pl.DataFrame) -> Columns:
    """The columns of comparable drains: rows have the drains' columns and their conditions."""
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
    places = {
        name: np.arange(end - block.shape[1], end)
        for (name, block), end in zip(blocks.items(), ends.tolist(), strict=True)
    }
    return Columns(gram / np.outer(lengths, lengths), places, springs, lengths)


def separation(columns: Columns, first: str, *, second: str) -> Separation:
    """How well two springs are separated from all else but the units, whose effects are random in the fit."""
    terms = [*LEVEL_TERMS, *NUMBER_TERMS]
    bare = _contrast_error(columns, first, second=second, terms=[])
    widening = _contrast_error(columns, first, second=second, terms=terms) / bare
    if widening <= 1.0:
        return Separation(1.0, ())
    alone = {term: _contrast_error(columns, first, second=second, terms=[term]) / bare for term in terms}
    unseen = tuple(term for term in terms if np.isinf(alone[term]))
    worst = max(terms, key=lambda term: alone[term])
    if unseen or widening <= WIDEST or alone[worst] > WIDEST:
        return Separation(widening, unseen or (worst,))
    return Separation(
        widening, _fewest(columns, first, second=second, terms=terms, limit=WIDEST * bare), together=True
    )


def _fewest(columns: Columns, first: str, *, second: str, terms: list[str], limit: float) -> tuple[str, ...]:
    """Two terms that together push the standard error over the limit, else all of them."""
    for pair in combinations(terms, 2):
        if _contrast_error(columns, first, second=second, terms=list(pair)) > limit:
            return pair
    return tuple(terms)


def _contrast_error(columns: Columns, first: str, *, second: str, terms: list[str]) -> float:
    """Standard error of the contrast for noise of variance 1, with these terms in; infinite where not estimable."""
    used = np.concatenate([columns.places[name] for name in ("", "spring_type", *terms)])
    contrast = np.zeros(columns.lengths.size)
    spring = columns.places["spring_type"]
    contrast[spring[columns.springs.index(first)]] = 1.0
    contrast[spring[columns.springs.index(second)]] = -1.0
    contrast = (contrast / columns.lengths)[used]
    values, vectors = np.linalg.eigh(columns.gram[np.ix_(used, used)])
    along = vectors.T @ contrast
    open_ones = values < _OPEN * max(1.0, float(values[-1]))
    if np.linalg.norm(along[open_ones]) > _UNSEEN_SHARE * np.linalg.norm(along):
        return float("inf")
    return float(np.sqrt(np.sum(along[~open_ones] ** 2 / values[~open_ones])))


def _indicators(values: pl.Series) -> tuple[tuple[str, ...], sparse.csr_array]:
    """One column of noughts and ones for each level; a blank is a level of its own, since it may be any."""
    text = values.cast(pl.String).fill_null("\x00")
    levels = tuple(text.unique().sort().to_list())
    place = {level: index for index, level in enumerate(levels)}
    at = np.array([place[value] for value in text.to_list()], dtype=np.int64)
    rows = np.arange(at.size)
    return levels, sparse.csr_array((np.ones(at.size), (rows, at)), shape=(at.size, len(levels)))
