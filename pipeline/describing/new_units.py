"""Springs and oils in use together: for each, what a unit without history would run."""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.describing.drain_selection import oil_changes


def new_unit_rows(drains: pl.DataFrame, state: pl.DataFrame) -> pl.DataFrame:
    """One row per spring type and oil grade in use, in their order: with drains and units behind it.

    drains : accepted drains; state : units as they stand. A unit without history starts on a new spring with nothing
    left behind (spring_hours_now and last_shortfall 0); its rider and site are not known yet.
    """
    together = ["spring_type", "oil_grade"]
    changes = oil_changes(drains, ["unit_key", *together])
    counts = (
        changes.group_by(together)
        .agg(pl.len().cast(pl.Int64).alias("drains"), pl.col("unit_key").n_unique().cast(pl.Int64).alias("units"))
        .with_columns(pl.col(together).cast(pl.String))
    )
    in_use = pl.concat([counts.select(together), state.select(together).drop_nulls()]).unique()
    return (
        in_use.join(counts, on=together, how="left")
        .with_columns(
            pl.col("drains", "units").fill_null(0),
            pl.concat_str(pl.lit("new unit on "), "spring_type", pl.lit(" / "), "oil_grade").alias("unit_key"),
            pl.lit(0.0).alias("spring_hours_now"),
            pl.lit(0.0).alias("last_shortfall"),
        )
        .sort(together)
    )
