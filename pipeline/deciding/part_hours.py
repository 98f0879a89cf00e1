"""Hours on each unit's part when the oil that runs now was filled."""

from __future__ import annotations

import polars as pl

from draincurve.schemas.service_kinds import is_oil_change

LONGEST_DAY_H = 24.0

HOURS_COLUMNS = ("unit_key", "clock_now", "at_least")


def part_hours_at_fill(
    state: pl.DataFrame,
    readings: pl.DataFrame,
    resets: pl.DataFrame,
    drains: pl.DataFrame,
    usage: pl.DataFrame | None,
) -> pl.DataFrame:
    """One row per row of `state`, in its order: the columns of HOURS_COLUMNS.

    readings : of one quantity, as `wear_series` gives them;  resets : unit_key, reset_on;  drains : accepted rows;
    usage : accepted rows or None.  clock_now [h] starts from the last reading of the part that is in the unit now,
    else from its rebuild, and adds every fill drained since. A fill that had begun before the reading counts whole,
    less what the usage log shows of it: rather too many hours than too few. Without reading and rebuild the part has
    run at least what the log holds, and at_least is true.
    """
    units = state.select("unit_key", "last_drained_on")
    last = (
        readings.filter("now")
        .drop_nulls("clock_h")
        .sort("measured_on", maintain_order=True)
        .group_by("unit_key")
        .agg(pl.col("measured_on").last().alias("from_on"), pl.col("clock_h").last().alias("from_h"))
    )
    rebuilt = resets.group_by("unit_key").agg(pl.col("reset_on").max())
    begun = (
        units.join(last, on="unit_key", how="left", maintain_order="left")
        .join(rebuilt, on="unit_key", how="left", maintain_order="left")
        .with_columns(
            pl.coalesce("from_on", "reset_on").alias("from_on"),
            pl.col("from_h").fill_null(0.0),
            (pl.col("from_on").is_null() & pl.col("reset_on").is_null()).alias("at_least"),
        )
    )
    since, before = _hours_since(begun, drains), _hours_before_reading(begun, usage)
    return (
        begun.join(since, on="unit_key", how="left", maintain_order="left")
        .join(before, on="unit_key", how="left", maintain_order="left")
        .with_columns(
            (pl.col("from_h") + pl.col("since_h").fill_null(0.0) - pl.col("before_h").fill_null(0.0))
            .clip(0.0)
            .alias("clock_now")
        )
        .select(HOURS_COLUMNS)
    )


def _hours_since(begun: pl.DataFrame, drains: pl.DataFrame) -> pl.DataFrame:
    """Hours of the fills drained after the start; a fill of unknown hours counts as the log's longest."""
    fills = drains.filter(is_oil_change()).select("unit_key", "drained_on", "oil_hours")
    longest = fills["oil_hours"].max()
    filled = fills.with_columns(pl.col("oil_hours").fill_null(longest if isinstance(longest, float) else 0.0))
    after = filled.join(begun.select("unit_key", "from_on"), on="unit_key", how="inner").filter(
        pl.col("from_on").is_null() | (pl.col("drained_on") > pl.col("from_on"))
    )
    return after.group_by("unit_key").agg(pl.col("oil_hours").sum().alias("since_h"))


def _hours_before_reading(begun: pl.DataFrame, usage: pl.DataFrame | None) -> pl.DataFrame:
    """Hours that the usage log shows on the oil that runs now before a reading taken in the middle of its fill.

    They are taken off, so a day of unknown hours, of over 24, or entered twice counts as the least that it may be.
    """
    if usage is None:
        return pl.DataFrame(schema={"unit_key": pl.String, "before_h": pl.Float64})
    midway = begun.filter(pl.col("from_on") > pl.col("last_drained_on"))
    certain = usage.filter(pl.col("hours") <= LONGEST_DAY_H).unique(["unit_key", "date", "hours"])
    ridden = certain.join(midway, on="unit_key", how="inner").filter(
        (pl.col("date") > pl.col("last_drained_on")) & (pl.col("date") < pl.col("from_on"))
    )
    return ridden.group_by("unit_key").agg(pl.col("hours").sum().alias("before_h"))
