"""How far two raters agree on the same drains: weighted kappa with its interval, and the mean difference in levels.

Weighted kappa (Cohen 1968, Psychol. Bull. 70, 213-220) with linear weights, its large-sample standard error after
Fleiss, Cohen & Everitt (1969, Psychol. Bull. 72, 323-327).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import polars as pl

from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.channels import RATING_LEVELS

FEWEST_SHARED = 10
"""Fewest drains rated by both for which kappa is computed."""


@dataclass(frozen=True, slots=True)
class Kappa:
    """Weighted kappa, its standard error and its 95 % interval, limited to -1..1; None where it is undefined."""

    value: float | None
    standard_error: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class RaterAgreement:
    """Two raters on the drains that both rated, in one channel.

    drains : rated by both; same_level : of these, rated the same; mean_difference : second minus first [levels].
    """

    channel: str
    first: str
    second: str
    drains: int
    same_level: int
    mean_difference: float
    kappa: Kappa

    @property
    def text(self) -> str:
        """The agreement in a sentence."""
        both = f"{self.first} and {self.second} rated {self.drains} drains both, {self.same_level} of them the same"
        if self.kappa.value is None:
            return f"{both}: too few, or too much alike, to say how far they agree."
        return f"{both}: agreement {_kappa_word(self.kappa.value)} (weighted kappa {self.kappa.value:.2f})."


def _kappa_word(kappa: float) -> str:
    """A word for kappa: the scale of Landis & Koch (1977, Biometrics 33, 159-174) with three grades."""
    if kappa >= 0.6:
        return "good"
    return "fair" if kappa >= 0.4 else "poor"


def weighted_kappa(table: Integers, weights: str | Floats) -> Kappa:
    """Weighted kappa of a square table of counts.

    weights : "linear", "quadratic", or the cost of each disagreement, of the table's shape.
    """
    expected = np.outer(table.sum(axis=1), table.sum(axis=0))
    if table.sum() == 0 or np.count_nonzero(expected - np.diag(np.diag(expected))) == 0:
        return Kappa(None, None, None, None)
    shares = table / table.sum()
    first, second = shares.sum(axis=1), shares.sum(axis=0)
    chance = np.outer(first, second)
    agreement = 1.0 - _costs(len(table), weights)
    by_chance = float((agreement * chance).sum())
    value = 1.0 - float(((1.0 - agreement) * shares).sum()) / (1.0 - by_chance)
    means = (agreement @ second)[:, None] + first @ agreement
    spread = (shares * (agreement - means * (1.0 - value)) ** 2).sum() - (value - by_chance * (1.0 - value)) ** 2
    error = float(np.sqrt(max(0.0, spread) / table.sum()) / abs(1.0 - by_chance))
    return Kappa(value, error, max(-1.0, value - 1.96 * error), min(1.0, value + 1.96 * error))


def _costs(levels: int, weights: str | Floats) -> Floats:
    """Cost of each disagreement, 0 on the diagonal."""
    if not isinstance(weights, str):
        return np.asarray(weights, dtype=float)
    apart = np.abs(np.subtract.outer(np.arange(levels), np.arange(levels))).astype(float)
    return apart if weights == "linear" else apart**2


def agreements(channel: str, drains: pl.DataFrame, *, second_ratings: pl.DataFrame) -> tuple[RaterAgreement, ...]:
    """Every pair of raters with drains that both rated, most drains first.

    drains, second_ratings : accepted rows (see Log). A range counts as its midpoint, rounded towards the dirtier
    level.
    """
    level = ((pl.col(f"{channel}_low") + pl.col(f"{channel}_high") + 1) // 2).cast(pl.Int64).alias("level")
    drain, rated_drain = pl.struct("source", "line"), pl.struct(source="drain_source", line="drain_line")
    firsts = drains.select(drain.alias("drain"), "rated_by", level)
    seconds = second_ratings.select(rated_drain.alias("drain"), "rated_by", level)
    rows = pl.concat([firsts.join(seconds.select("drain"), on="drain", how="semi"), seconds])
    rated = rows.drop_nulls().sort("drain", "rated_by")
    pairs = []
    for first, second in combinations(rated["rated_by"].unique().sort().to_list(), 2):
        shared = rated.filter(pl.col("rated_by") == first).join(
            rated.filter(pl.col("rated_by") == second), on="drain", suffix="_second"
        )
        if shared.height:
            levels = shared.select("level", "level_second").to_numpy()
            pairs.append(_agreement(channel, first, second=second, levels=levels))
    return tuple(sorted(pairs, key=lambda item: (-item.drains, item.first, item.second)))


def _agreement(channel: str, first: str, *, second: str, levels: Integers) -> RaterAgreement:
    """Agreement of two raters; levels : (n, 2), of the first and of the second."""
    table = np.zeros((RATING_LEVELS, RATING_LEVELS), dtype=np.int64)
    np.add.at(table, tuple(levels.T - 1), 1)
    used = np.flatnonzero(table.sum(axis=0) + table.sum(axis=1))
    kappa = (
        weighted_kappa(table[np.ix_(used, used)], np.abs(np.subtract.outer(used, used)).astype(float))
        if len(levels) >= FEWEST_SHARED
        else Kappa(None, None, None, None)
    )
    difference = levels[:, 1] - levels[:, 0]
    return RaterAgreement(
        channel, first, second, len(levels), int(np.sum(difference == 0)), float(np.mean(difference)), kappa
    )
