"""A predictor for comparison: gradient-boosted trees on a drain's columns and its unit's history so far.

The trees are scikit-learn's HistGradientBoostingClassifier. Their settings are chosen by ranked probability score
over folds of whole units, since folds that split a unit would reward trees that memorise units.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl
from sklearn.ensemble import HistGradientBoostingClassifier
from sklearn.model_selection import GroupKFold
from threadpoolctl import threadpool_limits

from draincurve.pipeline.judging.backtest.proper_scores import ranked_probability_scores
from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.channels import RATING_LEVELS

TreeSettings = Mapping[str, float]

CANDIDATES: tuple[TreeSettings, ...] = (
    {"learning_rate": 0.05, "max_iter": 40, "max_leaf_nodes": 4},
    {"learning_rate": 0.05, "max_iter": 80, "max_leaf_nodes": 6},
    {"learning_rate": 0.1, "max_iter": 80, "max_leaf_nodes": 10},
)
FOLDS = 3

_NUMBERS = ("oil_hours", "settling", "freshness", "carry_over")
_WORDS = ("spring_type", "oil_grade", "rider", "surface", "site", "rated_by")
_SO_FAR = ("drains_so_far", "mean_rating", "mean_log_hours", "last_rating", "last_hours")
_MOST_LEVELS = 200


@dataclass(frozen=True, slots=True)
class TrainingDrains:
    """Rated drains known at an origin, prepared for the trees.

    rows : drains with their conditions, sorted by unit and date, with low and high; levels : of each categorical
    column, most frequent first.
    """

    rows: pl.DataFrame
    levels: dict[str, tuple[str, ...]]


def training_drains(rows: pl.DataFrame, channel: str) -> TrainingDrains:
    """The drains before an origin, each with its unit's history before that drain.

    rows : drains with conditions, ratings <channel>_low and _high; sorted by unit and date.
    """
    rated = rows.with_columns(
        pl.col(f"{channel}_low").cast(pl.Int64).alias("low"), pl.col(f"{channel}_high").cast(pl.Int64).alias("high")
    )
    middle, log_hours = (pl.col("low") + pl.col("high")) / 2.0, pl.col("oil_hours").log()
    before = pl.int_range(pl.len()).over("unit_key")
    at_least_one = pl.when(before > 0).then(before)
    with_history = rated.with_columns(
        before.alias("drains_so_far"),
        (middle.cum_sum().shift(1).over("unit_key") / at_least_one).alias("mean_rating"),
        (log_hours.cum_sum().shift(1).over("unit_key") / at_least_one).alias("mean_log_hours"),
        middle.shift(1).over("unit_key").alias("last_rating"),
        pl.col("oil_hours").shift(1).over("unit_key").alias("last_hours"),
    )
    return TrainingDrains(with_history, {name: _levels(rows[name]) for name in _WORDS})


def tuned(known: TrainingDrains, seed: int) -> TreeSettings:
    """The candidate with the best score over folds of whole units; the most cautious one with too few units."""
    groups = known.rows["unit_key"].to_numpy()
    if np.unique(groups).size < FOLDS:
        return CANDIDATES[0]
    low, high = known.rows["low"].to_numpy(), known.rows["high"].to_numpy()
    design = _design(known.rows, known.levels)
    folds = list(GroupKFold(FOLDS).split(design, groups=groups))
    scores = [
        sum(
            float(
                ranked_probability_scores(
                    _fitted_probabilities(
                        design[train], low[train], high=high[train], asked=design[test], chosen=candidate, seed=seed
                    ),
                    low[test],
                    high=high[test],
                ).sum()
            )
            for train, test in folds
        )
        for candidate in CANDIDATES
    ]
    return CANDIDATES[int(np.argmin(scores))]


def boosted_probabilities(known: TrainingDrains, rows: pl.DataFrame, *, chosen: TreeSettings, seed: int) -> Floats:
    """Predicted probability of each rating, (rows, K); a unit's history is its drains before the origin."""
    middle = (pl.col("low") + pl.col("high")) / 2.0
    history = known.rows.group_by("unit_key").agg(
        pl.len().alias("drains_so_far"),
        middle.mean().alias("mean_rating"),
        pl.col("oil_hours").log().mean().alias("mean_log_hours"),
        middle.last().alias("last_rating"),
        pl.col("oil_hours").last().alias("last_hours"),
    )
    asked = rows.join(history, on="unit_key", how="left", maintain_order="left").with_columns(
        pl.col("drains_so_far").fill_null(0)
    )
    design = _design(known.rows, known.levels)
    low, high = known.rows["low"].to_numpy(), known.rows["high"].to_numpy()
    return _fitted_probabilities(design, low, high=high, asked=_design(asked, known.levels), chosen=chosen, seed=seed)


def _levels(column: pl.Series) -> tuple[str, ...]:
    counts = column.cast(pl.String).drop_nulls().value_counts().sort(["count", column.name], descending=[True, False])
    return tuple(counts[column.name].head(_MOST_LEVELS).to_list())


def _design(rows: pl.DataFrame, levels: Mapping[str, Sequence[str]]) -> Floats:
    """Numeric columns, then codes of categorical ones; NaN where a value is missing or its level is new."""
    numbers = rows.select(pl.col(name).cast(pl.Float64) for name in (*_NUMBERS, *_SO_FAR)).to_numpy()
    codes = rows.select(
        pl.col(name)
        .cast(pl.String)
        .replace_strict(list(levels[name]), list(range(len(levels[name]))), default=None, return_dtype=pl.Float64)
        for name in _WORDS
    ).to_numpy()
    return np.hstack((numbers, codes)).astype(np.float64)


def _fitted_probabilities(
    design: Floats, low: Integers, *, high: Integers, asked: Floats, chosen: TreeSettings, seed: int
) -> Floats:
    """Probabilities of the ratings of `asked` by fitted trees; a typed range is split equally over its levels."""
    repeats = high - low + 1
    row = np.repeat(np.arange(low.size), repeats)
    rating = low[row] + np.arange(row.size) - np.repeat(np.cumsum(repeats) - repeats, repeats)
    probabilities = np.zeros((asked.shape[0], RATING_LEVELS))
    levels = np.unique(rating)
    if levels.size == 1:
        probabilities[:, levels[0] - 1] = 1.0
        return probabilities
    trees = HistGradientBoostingClassifier(
        learning_rate=chosen["learning_rate"],
        max_iter=int(chosen["max_iter"]),
        max_leaf_nodes=int(chosen["max_leaf_nodes"]),
        min_samples_leaf=10,
        l2_regularization=1.0,
        early_stopping=False,
        categorical_features=np.arange(design.shape[1]) >= design.shape[1] - len(_WORDS),
        random_state=seed,
    )
    # One thread: on logs of this size, threads spend twenty times longer waiting for each other than working.
    with threadpool_limits(limits=1, user_api="openmp"):
        trees.fit(design[row], rating, sample_weight=1.0 / repeats[row])
        probabilities[:, trees.classes_ - 1] = trees.predict_proba(asked)
    return probabilities
