"""Conditions of each fill of oil, as covariates of the rating model: settling, run-in, carry-over, age of the part.

In the fit a missing value counts as 0 (no run-in, nothing left behind). It then explains no dirt, which is attributed
to the hours and so shortens intervals. In a prediction a missing value counts as the dirtier case.
"""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.describing.drain_methods import method_left, volume_left
from draincurve.pipeline.describing.drain_selection import oil_changes
from draincurve.pipeline.describing.part_age import AGE_COLUMNS, usual_fill, with_part_age

RUN_IN_HOURS = 5.0
"""Time constant [h] of the shedding of new parts (a starting value of the trade, no source)."""

LARGEST_SHORTFALL = 0.5

CONDITIONS_OF = (
    *AGE_COLUMNS, "drained_on", "line", "settle_hours", "spring_hours", "filled_ml", "drained_ml", "drain_method",
    "return_in_question",
)  # fmt: skip
"""Columns of drains that `with_conditions` reads."""


def settling(settle_hours: pl.Expr) -> pl.Expr:
    """log(1 + settling time [h]): debris goes on settling, ever more slowly."""
    return settle_hours.log1p()


def mean_freshness(from_hours: pl.Expr, to_hours: pl.Expr) -> pl.Expr:
    """Mean of exp(-s / 5 h) over the hours s on the spring during a fill: 1 for a new spring, 0 for a run-in one."""
    start, end = from_hours.clip(0.0), to_hours.clip(0.0)
    span = (end - start).clip(1e-6)
    return RUN_IN_HOURS / span * ((-start / RUN_IN_HOURS).exp() - (-(start + span) / RUN_IN_HOURS).exp())


def carry_over(shortfall: pl.Expr) -> pl.Expr:
    """-log(1 - f) for the share f of old oil left behind: in the long run debris is 1 / (1 - f) times as much."""
    return -(1.0 - shortfall.clip(0.0, LARGEST_SHORTFALL)).log()


def with_conditions(drains: pl.DataFrame, *, usual_hours: float | None = None) -> pl.DataFrame:
    """Oil changes (no top-ups) with settling, freshness, left_before, carry_over, part_age and part_life.

    Sorted by unit and date. drains : accepted drains; usual_hours : the fleet's usual fill [h], None for that of
    these drains. left_before is the share of old oil that the drain before left behind, by its volumes or else by its
    drain method, null where neither is known; a rebuild leaves nothing. Volumes that are asked about explain no dirt.
    """
    volumes = volume_left()
    if "return_in_question" in drains.columns:
        volumes = pl.when(~pl.col("return_in_question")).then(volumes)
    shortfall = pl.coalesce(volumes, method_left(drains, dirtier=False))
    left = pl.when(pl.col("service_kind") == "rebuild").then(0.0).otherwise(shortfall)
    changes = oil_changes(drains, drains.columns).sort("unit_key", "drained_on", "line", maintain_order=True)
    usual_hours = usual_fill(drains) if usual_hours is None else usual_hours
    return (
        with_part_age(changes, usual_hours)
        .with_columns(
            settling(pl.col("settle_hours")).fill_null(0.0).alias("settling"),
            mean_freshness(pl.col("spring_hours") - pl.col("oil_hours"), pl.col("spring_hours"))
            .fill_null(0.0)
            .alias("freshness"),
            left.shift(1).over("unit_key").alias("left_before"),
        )
        .with_columns(carry_over(pl.col("left_before")).fill_null(0.0).alias("carry_over"))
    )


def state_conditions(
    state: pl.DataFrame, settle_hours: float, *, usual_hours: float, reference_rater: str | None = None
) -> pl.DataFrame:
    """Settling, freshness, carry_over and part_age of the fill that runs now in each unit, and who will rate it.

    state : one row a unit, with spring_hours_now [h], last_shortfall and part_age_now [h]; settle_hours : the shop's
    standard [h]; usual_hours : the fleet's usual fill [h], over which run-in is averaged; reference_rater : the rater
    for whom is predicted, None for the average of all.
    """
    hours_now = pl.col("spring_hours_now").fill_null(0.0)
    worst = state["last_shortfall"].quantile(0.9)
    return state.with_columns(
        settling(pl.lit(settle_hours)).alias("settling"),
        mean_freshness(hours_now, hours_now + usual_hours).alias("freshness"),
        carry_over(pl.col("last_shortfall").fill_null(0.0 if worst is None else worst)).alias("carry_over"),
        pl.col("part_age_now").alias("part_age"),
        pl.lit(reference_rater, dtype=pl.String).alias("rated_by"),
    )
