"""Which drain a reading of the oil belongs to: by its day, by its hours on the oil, or in doubt.

A sample of the day of a drain is of that drain. One with hours on the oil is of the drain whose hours these are, if
it is dated a few weeks after it at most (laboratories date their reports), else of the fill that ran on its day. One
without hours is of the drain a few days before it; where two drains may be meant, or the drain comes after it, it is
in doubt.
"""

from __future__ import annotations

import polars as pl

from draincurve.schemas.service_kinds import is_oil_change
from draincurve.schemas.settings import LaboratoryRule

HOURS_TOLERANCE = 0.1
"""Share of a drain's hours within which typed hours are the same, where that is more than the rule says."""


def with_drains_of_samples(rows: pl.DataFrame, drains: pl.DataFrame, rule: LaboratoryRule) -> pl.DataFrame:
    """Readings of the oil with the hours and the fill of each, in their order.

    rows : unit_key, measured_on, component_hours and more; drains : accepted rows. Adds clock_h [h], null where not
    known; fill, number of the fill in its unit; in_doubt; of_day and of_hours of the drain that it is taken for; and
    other_day of another one that may be meant (null where there is none)
    """
    changes = numbered_fills(drains)
    numbered = rows.with_row_index("_sample")
    near = _near_drains(numbered, changes, rule)
    chosen = near.sort("_rank", "_far", "drained_on").group_by("_sample", maintain_order=True).first()
    others = (
        near.filter(pl.col("_rank") == 2)
        .join(chosen.select("_sample", pl.col("drained_on").alias("_own")), on="_sample")
        .filter(pl.col("drained_on") != pl.col("_own"))
        .group_by("_sample")
        .agg(pl.col("drained_on").max().alias("other_day"))
    )
    nearest = (
        numbered.join(chosen.select("_sample", "_rank", "drained_on", "oil_hours", "fill"), on="_sample", how="left")
        .join(others, on="_sample", how="left")
        .join(_running_fills(numbered, changes), on="_sample", how="left")
        .sort("_sample")
    )
    doubt = (pl.col("_rank") == 3) | ((pl.col("_rank") == 2) & pl.col("other_day").is_not_null())
    return nearest.with_columns(
        pl.coalesce("oil_hours", "component_hours").alias("clock_h"),
        pl.coalesce("fill", "_running").alias("fill"),
        doubt.fill_null(False).alias("in_doubt"),
        pl.col("drained_on").alias("of_day"),
        pl.col("oil_hours").alias("of_hours"),
    ).drop("_sample", "_rank", "drained_on", "oil_hours", "_running")


def numbered_fills(drains: pl.DataFrame) -> pl.DataFrame:
    """Fills by their oil changes, numbered in each unit: unit_key, drained_on, oil_hours, fill."""
    changes = drains.filter(is_oil_change()).group_by("unit_key", "drained_on")
    ordered = changes.agg(pl.col("oil_hours").max()).sort("unit_key", "drained_on")
    return ordered.with_columns(pl.int_range(pl.len()).over("unit_key").alias("fill"))


def _near_drains(rows: pl.DataFrame, changes: pl.DataFrame, rule: LaboratoryRule) -> pl.DataFrame:
    """Drains that a reading may be of, the surest first: _rank 0 of its day, 1 of its hours, 2 before it, 3 after."""
    pairs = rows.select("_sample", "unit_key", "measured_on", "component_hours").join(changes, on="unit_key")
    days = (pl.col("measured_on") - pl.col("drained_on")).dt.total_days()
    apart = (pl.col("component_hours") - pl.col("oil_hours")).abs()
    same_hours = (apart <= rule.sample_hours) | (apart <= HOURS_TOLERANCE * pl.col("oil_hours"))
    untyped = pl.col("component_hours").is_null()
    rank = (
        pl.when(days == 0).then(0)
        .when(same_hours & days.is_between(-rule.sample_days, rule.report_days)).then(1)
        .when(untyped & days.is_between(0, rule.sample_days)).then(2)
        .when(untyped & days.is_between(-rule.sample_days, 0)).then(3)
    )  # fmt: skip
    return pairs.with_columns(rank.alias("_rank"), days.abs().alias("_far")).drop_nulls("_rank")


def _running_fills(rows: pl.DataFrame, changes: pl.DataFrame) -> pl.DataFrame:
    """Number of the fill that ran on the day of each reading: as many as were drained before."""
    before = rows.select("_sample", "unit_key", "measured_on").join(changes, on="unit_key", how="left")
    earlier = pl.col("drained_on") < pl.col("measured_on")
    return before.group_by("_sample").agg(earlier.fill_null(False).sum().cast(pl.Int64).alias("_running"))
