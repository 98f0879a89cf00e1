"""A unit without history, for every spring and oil in use together."""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.describing.drain_selection import oil_changes


def new_unit_rows(drains: pl.DataFrame, state: pl.DataFrame) -> pl.DataFrame:
    """One row per spring type and oil grade in use, sorted by both, with the number of drains and units behind it.

    drains : accepted drains; state : as `fleet_state` gives it. A unit without history starts on a new spring with no
    old oil in it (spring_hours_now and last_shortfall are 0). Its rider and site are not known.
    """
    spring_and_oil = ["spring_type", "oil_grade"]
    changes = oil_changes(drains, ["unit_key", *spring_and_oil])
    counts = (
        changes.group_by(spring_and_oil)
        .agg(pl.len().cast(pl.Int64).alias("drains"), pl.col("unit_key").n_unique().cast(pl.Int64).alias("units"))
        .with_columns(pl.col(spring_and_oil).cast(pl.String))
    )
    in_use = pl.concat([counts.select(spring_and_oil), state.select(spring_and_oil).drop_nulls()]).unique()
    return (
        in_use.join(counts, on=spring_and_oil, how="left")
        .with_columns(
            pl.col("drains", "units").fill_null(0),
            pl.concat_str(pl.lit("new unit on "), "spring_type", pl.lit(" / "), "oil_grade").alias("unit_key"),
            pl.lit(0.0).alias("spring_hours_now"),
            pl.lit(0.0).alias("last_shortfall"),
        )
        .sort(spring_and_oil)
    )
