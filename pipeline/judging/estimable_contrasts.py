"""Estimable contrasts of levels, and the inflation of their errors by confounded columns.

Levels are fixed effects here, without a prior: a contrast of two levels is estimable only where it is in the row
space of the design (Searle 1971, Linear Models, section 5.4). The factor by which the other columns inflate its
standard error measures how weakly the levels are separated.

Seasons and habits change for a whole fleet, so the calendar is such a column too: ranges of dates with equally many
drains, divided again where a level came in or went out. Levels that were in use at the same time, or that units
changed at other times, remain separable from it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import polars as pl
from scipy import sparse

from draincurve.schemas.array_types import Floats, Integers

PERIOD = "period"
"""Column of the ranges of dates."""

WIDEST = 3.0
"""Largest inflation of a range by confounded columns; over it, a comparison depends on few drains."""

MOST_PERIODS = 24
DRAINS_A_PERIOD = 8
"""Fewest drains of a period on average, so that in a short log enough drains are left to compare."""

_SMALLEST_EIGENVALUE = 1e-8  # of the scaled cross-products; below it a direction is in the null space (length 1e-4)
_LEAST_NULL_SHARE = 1e-4  # of a contrast in the null space, over which it is not estimable


@dataclass(frozen=True)
class Columns:
    """Cross-products of all columns, scaled to unit diagonal, and the columns and levels of each term."""

    gram: Floats
    term_columns: dict[str, Integers]
    levels: dict[str, tuple[str, ...]]
    lengths: Floats


def contrast_columns(rows: pl.DataFrame, terms: tuple[str, ...], *, numbers: tuple[str, ...] = ()) -> Columns:
    """The columns of some terms with levels, the first of which is the one compared, of the calendar, and of numbers.

    rows : drains, with drained_on and the columns of the terms and numbers.
    """
    blocks, levels = {"": sparse.csr_array(np.ones((rows.height, 1)))}, {}
    with_periods = rows.with_columns(_periods(rows, terms[0]).alias(PERIOD))
    for name in (*terms, PERIOD):
        levels[name], blocks[name] = _indicators(with_periods[name])
    for name in numbers:
        values = rows[name].to_numpy()
        blocks[name] = sparse.csr_array((values - values.mean()).reshape(-1, 1))
    together = sparse.hstack(list(blocks.values())).tocsr()
    gram = (together.T @ together).toarray()
    lengths = np.sqrt(np.maximum(np.diag(gram), 1e-300))
    ends = np.cumsum([block.shape[1] for block in blocks.values()])
    term_columns = {
        name: np.arange(end - block.shape[1], end)
        for (name, block), end in zip(blocks.items(), ends.tolist(), strict=True)
    }
    return Columns(gram / np.outer(lengths, lengths), term_columns, levels, lengths)


def difference(columns: Columns, term: str, *, first: str, second: str) -> Floats:
    """Weights of all columns in the difference of two levels of a term."""
    weights, levels = np.zeros(columns.lengths.size), columns.levels[term]
    weights[columns.term_columns[term][levels.index(first)]] = 1.0
    weights[columns.term_columns[term][levels.index(second)]] = -1.0
    return weights


def contrast_errors(columns: Columns, contrasts: Floats, *, terms: Sequence[str]) -> Floats:
    """Standard error of each contrast for unit noise variance, in a fit of these terms; infinite if not estimable.

    contrasts : (n, columns). Returns (n,).
    """
    used = np.concatenate([columns.term_columns[name] for name in ("", *terms)])
    values, vectors = np.linalg.eigh(columns.gram[np.ix_(used, used)])
    projected = (contrasts / columns.lengths)[:, used] @ vectors
    null_space = values < _SMALLEST_EIGENVALUE * max(1.0, float(values[-1]))
    lost = np.linalg.norm(projected[:, null_space], axis=1)
    errors = np.sqrt(np.sum(projected[:, ~null_space] ** 2 / values[~null_space], axis=1))
    return np.where(lost > _LEAST_NULL_SHARE * np.linalg.norm(projected, axis=1), np.inf, errors)


def hidden_by_calendar(rows: pl.DataFrame, term: str) -> dict[tuple[str, str], bool]:
    """Whether the calendar hides the difference of each two levels of a term, by the levels in order of name.

    rows : drains, with drained_on and the term's column, which names a level in each; there may be none.
    """
    if rows.is_empty():
        return {}
    columns = contrast_columns(rows, (term,))
    pairs = list(combinations(columns.levels[term], 2))
    if not pairs:
        return {}
    contrasts = np.array([difference(columns, term, first=first, second=second) for first, second in pairs])
    widening = contrast_errors(columns, contrasts, terms=(term, PERIOD)) / contrast_errors(
        columns, contrasts, terms=(term,)
    )
    return dict(zip(pairs, (widening > WIDEST).tolist(), strict=True))


def _periods(rows: pl.DataFrame, term: str) -> pl.Series:
    """Number of the range of dates that holds each drain.

    Ranges have about equally many drains, and begin also where a level of the term came in or went out: else one
    range with drains before and after would separate a change of the whole fleet from its date.
    """
    day = pl.col("drained_on").to_physical()
    days = rows.select(day).to_series()
    count = min(MOST_PERIODS, max(1, days.len() // DRAINS_A_PERIOD))
    ends = rows.group_by(term).agg(day.min().alias("in"), (day.max() + 1).alias("out"))
    begins = np.sort(days.to_numpy())[np.arange(count) * days.len() // count]
    edges = np.unique(np.concatenate((begins, ends["in"].to_numpy(), ends["out"].to_numpy())))
    return pl.Series(np.searchsorted(edges, days.to_numpy(), side="right"))


def _indicators(values: pl.Series) -> tuple[tuple[str, ...], sparse.csr_array]:
    """One column of zeros and ones for each level; a blank is a level of its own, since it may be any."""
    text = values.cast(pl.String).fill_null("\x00")
    levels = text.unique().sort().to_list()
    codes = text.replace_strict(levels, list(range(len(levels))), return_dtype=pl.Int64).to_numpy()
    rows = np.arange(codes.size)
    return tuple(levels), sparse.csr_array((np.ones(codes.size), (rows, codes)), shape=(codes.size, len(levels)))
