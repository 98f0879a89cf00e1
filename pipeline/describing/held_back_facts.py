"""What is still used of held-back rows: a sign seen, a maker's limit, a ride of unknown hours.

A row that cannot be right is no evidence for a fit. But if it were ignored altogether, a slip of the pen could hide a
leak, lift a limit or lose a ride, and unknown is never safe.
"""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from draincurve.pipeline.describing.signs import NOTE_COLUMNS, WARNED
from draincurve.schemas.channels import CHANNELS
from draincurve.schemas.columns import SIGNS, TOP_UP

LIMITS = ("max_interval_h", "max_oil_days")


def held_back_signs(legible_drains: pl.DataFrame | None, drains: pl.DataFrame) -> pl.DataFrame:
    """Held-back drains with a sign, in the columns of `drains`, as top-ups: they show a sign but clear none.

    A rating that shows a sign, such as flakes, is one too. drained_on is null where it cannot be read.
    """
    if legible_drains is None:
        return drains.clear()
    rated = {channel.high: sign.level for channel in CHANNELS if (sign := channel.sign)}
    signs = [pl.col(name) for name in SIGNS] + [pl.col(name) >= level for name, level in rated.items()]
    noted = [name for name in NOTE_COLUMNS if name in legible_drains.columns]
    signs += [pl.col(WARNED)] if WARNED in noted else []
    shown = legible_drains.filter(pl.any_horizontal(sign.fill_null(False) for sign in signs))
    kept = ("unit_key", "unit_id", "site", "drained_on", *SIGNS, *noted, *rated)
    rows = shown.select(kept).with_columns(pl.lit(TOP_UP).alias("service_kind"))
    typed = rows.cast({name: kind for name, kind in drains.schema.items() if name in rows.columns})
    return pl.concat([drains.clear(), typed], how="diagonal")


def units_held_back_past_limit(
    legible_drains: pl.DataFrame | None, drains: pl.DataFrame, limits: Mapping[str, int]
) -> pl.DataFrame:
    """Units of which a drain is held back that was rated at or over a limit: unit_id, site.

    legible_drains : held-back rows; one of a day on which the unit has an accepted drain may be its copy, and is left
    out. limits : by column of a rating's highest level
    """
    columns = ["unit_id", "site"]
    if legible_drains is None:
        return drains.select(columns).clear()
    past = pl.any_horizontal((pl.col(name) >= limit).fill_null(False) for name, limit in limits.items())
    key = (pl.col("unit_key").cast(pl.String), pl.col("drained_on"))
    rated = legible_drains.filter(past).with_columns(key)
    lost = rated.join(drains.select(key), on=["unit_key", "drained_on"], how="anti", maintain_order="left")
    return lost.select(columns).unique(maintain_order=True)


def with_held_back_limits(units: pl.DataFrame | None, legible_units: pl.DataFrame | None) -> pl.DataFrame | None:
    """The register with the limits of its held-back rows. Where a unit has several, the shortest holds."""
    if units is None or legible_units is None or not legible_units.height:
        return units
    limits = legible_units.select("unit_key", "unit_id", *LIMITS).filter(
        pl.any_horizontal(pl.col(name) > 0 for name in LIMITS)
    )
    shortest = limits.group_by("unit_key", maintain_order=True).agg(
        pl.col("unit_id").first(), *(pl.col(name).filter(pl.col(name) > 0).min() for name in LIMITS)
    )
    joined = units.join(shortest, on="unit_key", how="left", suffix="_held_back", maintain_order="left")
    known = joined.with_columns(pl.min_horizontal(name, f"{name}_held_back").alias(name) for name in LIMITS)
    new = shortest.join(units, on="unit_key", how="anti").with_columns(pl.lit(True).alias("in_service"))
    return pl.concat([known.select(units.columns), new], how="diagonal")


def with_held_back_days(rows: pl.DataFrame | None, legible: pl.DataFrame | None) -> pl.DataFrame | None:
    """Usage or bookings with the days of held-back rows added, their hours unknown."""
    if rows is None or legible is None or not legible.height:
        return rows
    days = legible.drop_nulls("date").select("unit_key", "unit_id", "site", "date")
    return pl.concat([rows, days], how="diagonal")
