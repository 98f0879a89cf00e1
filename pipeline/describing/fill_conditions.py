"""What each fill of oil went through, as numbers that the rating model can use: settling, run-in, carry-over.

Each is written so that an unknown gives no excuse: a missing value counts as 0 (no run-in, nothing left behind), so
that dirt is put down to the hours, which shortens intervals. For prediction the unknown is the other way round.
"""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.describing.drain_methods import method_left, volume_left
from draincurve.pipeline.describing.drain_selection import oil_changes

RUN_IN_HOURS = 5.0
"""Hours over which the shedding of new parts dies away (a starting value of the trade, no source)."""

LARGEST_SHORTFALL = 0.5

CONDITIONS_OF = (
    "unit_key", "drained_on", "line", "service_kind", "oil_hours", "settle_hours", "spring_hours", "filled_ml",
    "drained_ml", "drain_method",
)  # fmt: skip
"""Columns of drains that `with_conditions` asks for."""


def settling(settle_hours: pl.Expr) -> pl.Expr:
    """log(1 + settling time [h]): what settles goes on showing, ever more slowly."""
    return settle_hours.log1p()


def mean_freshness(from_hours: pl.Expr, to_hours: pl.Expr) -> pl.Expr:
    """Mean of exp(-s / 5 h) for hours s on the spring from the fill's start to its end; 1 new, 0 run in."""
    start, end = from_hours.clip(0.0), to_hours.clip(0.0)
    span = (end - start).clip(1e-6)
    return RUN_IN_HOURS / span * ((-start / RUN_IN_HOURS).exp() - (-(start + span) / RUN_IN_HOURS).exp())


def carry_over(shortfall: pl.Expr) -> pl.Expr:
    """-log(1 - f) for the share f of old oil left behind: in the long run it multiplies debris by 1 / (1 - f)."""
    return -(1.0 - shortfall.clip(0.0, LARGEST_SHORTFALL)).log()


def with_conditions(drains: pl.DataFrame) -> pl.DataFrame:
    """Oil changes (no top-ups) with settling, freshness, left_before, carry_over added; sorted by unit and date.

    drains : accepted drains. The share left behind at a drain works on the fill after it (left_before, null where not
    known); where its volumes are not known its way of draining stands in; a rebuild leaves nothing.
    """
    shortfall = pl.coalesce(volume_left(), method_left(drains, dirtier=False))
    left = pl.when(pl.col("service_kind") == "rebuild").then(0.0).otherwise(shortfall)
    changes = oil_changes(drains, drains.columns).sort("unit_key", "drained_on", "line", maintain_order=True)
    return changes.with_columns(
        settling(pl.col("settle_hours")).fill_null(0.0).alias("settling"),
        mean_freshness(pl.col("spring_hours") - pl.col("oil_hours"), pl.col("spring_hours"))
        .fill_null(0.0)
        .alias("freshness"),
        left.shift(1).over("unit_key").alias("left_before"),
    ).with_columns(carry_over(pl.col("left_before")).fill_null(0.0).alias("carry_over"))


def state_conditions(state: pl.DataFrame, settle_hours: float, usual_hours: float) -> pl.DataFrame:
    """The fill now running in each unit, with the same columns; what is unknown counts as the dirtier case.

    state : one row a unit, with spring_hours_now [h] and last_shortfall; settle_hours : the shop's standard [h];
    usual_hours : the fleet's usual fill [h], over which run-in is averaged.
    """
    hours_now = pl.col("spring_hours_now").fill_null(0.0)
    worst = state["last_shortfall"].quantile(0.9)
    return state.with_columns(
        settling(pl.lit(settle_hours)).alias("settling"),
        mean_freshness(hours_now, hours_now + usual_hours).alias("freshness"),
        carry_over(pl.col("last_shortfall").fill_null(0.0 if worst is None else worst)).alias("carry_over"),
    )
