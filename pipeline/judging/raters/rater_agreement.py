"""How far two raters agree on the same drains: weighted kappa with its interval, and the mean difference in levels.

Weighted kappa (Cohen 1968, Psychol. Bull. 70, 213-220) with linear weights, its large-sample standard error after
Fleiss, Cohen & Everitt (1969, Psychol. Bull. 72, 323-327), through statsmodels.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import polars as pl

from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.channels import RATING_LEVELS

FEWEST_SHARED = 10
"""Double-rated drains under which kappa is not worth a number."""


@dataclass(frozen=True, slots=True)
class Kappa:
    """Weighted kappa with its standard error and 95 % interval, held to -1..1; None where it is undefined."""

    value: float | None
    standard_error: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class RaterAgreement:
    """Two raters on the drains that both rated, in one channel.

    same : drains with the same level; mean_difference : levels by which `second` rates dirtier than `first`.
    """

    channel: str
    first: str
    second: str
    drains: int
    same: int
    mean_difference: float
    kappa: Kappa

    @property
    def words(self) -> str:
        """The finding in plain words."""
        both = f"{self.first} and {self.second} rated {self.drains} drains both, {self.same} of them the same"
        if self.kappa.value is None:
            return f"{both}: too few, or too much alike, to say how far they agree."
        return f"{both}: agreement {_in_words(self.kappa.value)} (weighted kappa {self.kappa.value:.2f})."


def _in_words(kappa: float) -> str:
    """Words for kappa, after Landis & Koch (1977, Biometrics 33, 159-174), in fewer steps."""
    if kappa >= 0.6:
        return "good"
    return "fair" if kappa >= 0.4 else "poor"


def weighted_kappa(table: Integers, weights: str | Floats = "linear") -> Kappa:
    """Weighted kappa of a square table of counts.

    weights : "linear", "quadratic", or disagreement weights of the table's shape.
    """
    expected = np.outer(table.sum(axis=1), table.sum(axis=0))
    if table.sum() == 0 or np.count_nonzero(expected - np.diag(np.diag(expected))) == 0:
        return Kappa(None, None, None, None)
    from statsmodels.stats.inter_rater import cohens_kappa  # heavy, and few logs hold double ratings

    by_name = weights if isinstance(weights, str) else None
    found = cohens_kappa(table, weights=None if isinstance(weights, str) else weights, wt=by_name)
    value, error = float(found.kappa), float(found.std_kappa)
    return Kappa(value, error, max(-1.0, value - 1.96 * error), min(1.0, value + 1.96 * error))


def agreements(channel: str, drains: pl.DataFrame, *, second_ratings: pl.DataFrame) -> tuple[RaterAgreement, ...]:
    """Every pair of raters with drains that both rated, most drains first.

    drains : accepted drains; second_ratings : see Log; a range counts as its middle, rounded towards
    the dirtier level.
    """
    level = ((pl.col(f"{channel}_low") + pl.col(f"{channel}_high") + 1) // 2).cast(pl.Int64).alias("level")
    first_place, second_place = pl.struct("source", "line"), pl.struct(source="drain_source", line="drain_line")
    firsts = drains.select(first_place.alias("drain"), "rated_by", level)
    seconds = second_ratings.select(second_place.alias("drain"), "rated_by", level)
    rows = pl.concat([firsts.join(seconds.select("drain"), on="drain", how="semi"), seconds])
    rated = rows.drop_nulls().sort("drain", "rated_by")
    found = []
    for one, other in combinations(rated["rated_by"].unique().sort().to_list(), 2):
        pair = rated.filter(pl.col("rated_by") == one).join(
            rated.filter(pl.col("rated_by") == other), on="drain", suffix="_other"
        )
        if pair.height:
            found.append(
                _agreement(
                    channel, one, other=other, levels=pair["level"].to_numpy(), others=pair["level_other"].to_numpy()
                )
            )
    return tuple(sorted(found, key=lambda item: (-item.drains, item.first, item.second)))


def _agreement(channel: str, one: str, *, other: str, levels: Integers, others: Integers) -> RaterAgreement:
    table = np.zeros((RATING_LEVELS, RATING_LEVELS), dtype=np.int64)
    np.add.at(table, (levels - 1, others - 1), 1)
    seen = np.flatnonzero(table.sum(axis=0) + table.sum(axis=1))
    kappa = (
        weighted_kappa(table[np.ix_(seen, seen)], np.abs(np.subtract.outer(seen, seen)).astype(float))
        if levels.size >= FEWEST_SHARED
        else Kappa(None, None, None, None)
    )
    return RaterAgreement(
        channel,
        one,
        other,
        int(levels.size),
        int(np.sum(levels == others)),
        float(np.mean(others - levels)),
        kappa,
    )
