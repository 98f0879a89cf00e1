"""Oil missing at each drain: oil filled, with its top-ups, less oil drained."""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.describing import by_unit_batches
from draincurve.schemas.service_kinds import is_oil_change, is_top_up

WET = r"(?i)\b(?:wet|weep\w*|seal\w*|leak\w*)\b"
"""Words in a note that mean a leak or a seal."""

_ASKED = (
    "unit_key", "drained_on", "line", "oil_hours", "service_kind", "filled_ml", "drained_ml", "leak", "note",
    "drain_method",
)  # fmt: skip

NOISE_SHARE = 0.02
"""Volume changes within this share of the fill are noise (thermal expansion is 0.07 % per C, so 20 C is 1.4 %)."""

READING_SD = NOISE_SHARE / 2
"""Least scatter of missing shares in any test: readings are no better, however alike a few of them look."""

FALSE_ALARM = 0.10
"""Probability that any unit is said to lose oil in a fleet where none does, and the same for a step (our choice)."""


def missing_oil(drains: pl.DataFrame) -> tuple[pl.DataFrame, int]:
    """Drains with both volumes and hours, by unit and in order of time, and the number of drains that lack one.

    drains : accepted rows. Columns: unit_key, drained_on, oil_hours [h], filled_ml (top-ups since the
    drain before are in it), missing_ml, share (missing over filled), old_oil (whether oil of the fill before may have
    stayed), stays (whether some may have stayed at this drain: none does at a rebuild), follows (the unit's drain
    before is a row of the table too), wet (a leak, or a seal in the note), drain_method. A drain after a top-up of
    unknown volume lacks its volume.
    """
    table = by_unit_batches(drains.select(_ASKED), _whole)
    changes = drains.select(is_oil_change().sum()).item()
    return table, changes - table.height


def _whole(drains: pl.DataFrame) -> pl.DataFrame:
    return _oil_changes(drains).filter("whole").drop("whole")


def _oil_changes(drains: pl.DataFrame) -> pl.DataFrame:
    """Drains that are no top-ups, whether both volumes and hours are known or not (whole)."""
    ordered = drains.sort("unit_key", "drained_on", "line")
    top_up = is_top_up()
    added = pl.when(top_up).then(pl.col("filled_ml"))
    rebuild = (pl.col("service_kind") == "rebuild").fill_null(False)
    speaks = pl.col("note").cast(pl.String).str.contains(WET)
    counted = ordered.with_columns(
        top_up.alias("top_up"),
        (~top_up).cum_sum().over("unit_key").alias("after"),
    ).with_columns((pl.col("after") - (~pl.col("top_up")).cast(pl.UInt32)).alias("before"))
    topped = (
        counted.filter("top_up")
        .group_by("unit_key", pl.col("after").alias("before"))
        .agg(added.sum().alias("topped_ml"), pl.col("filled_ml").is_null().any().alias("unknown"))
    )
    changes = (
        counted.filter(~pl.col("top_up"))
        .join(topped, on=["unit_key", "before"], how="left", maintain_order="left")
        .with_columns(
            (pl.col("filled_ml") + pl.col("topped_ml").fill_null(0.0)).alias("filled_ml"),
            pl.col("unknown").fill_null(False),
            (~rebuild.shift(1).over("unit_key").fill_null(False)).alias("old_oil"),
            (~rebuild).alias("stays"),
            (pl.col("leak").fill_null(False) | speaks.fill_null(False)).alias("wet"),
        )
    )
    whole = (pl.col("filled_ml").is_not_null() & pl.col("drained_ml").is_not_null() & ~pl.col("unknown")).alias(
        "whole"
    )
    known = changes.with_columns(whole).with_columns(
        pl.col("whole").shift(1).over("unit_key").fill_null(False).alias("follows")
    )
    missing = pl.col("filled_ml") - pl.col("drained_ml")
    return known.select(
        "unit_key",
        "drained_on",
        "oil_hours",
        "filled_ml",
        missing.alias("missing_ml"),
        (missing / pl.col("filled_ml")).alias("share"),
        "old_oil",
        "stays",
        "follows",
        "wet",
        "drain_method",
        "whole",
    )
