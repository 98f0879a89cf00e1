"""What rows that are held back still say on the safe side: a sign seen, a maker's limit, a ride of unknown hours.

A row that cannot be right is no evidence for the fit. But dropping it whole would let a slip of the pen hide a leak,
lift a limit or lose a ride, and unknown is never safe.
"""

from __future__ import annotations

import polars as pl

SIGNS = ("milky", "burnt", "leak")
LIMITS = ("max_interval_h", "max_oil_days")


def held_back_signs(legible_drains: pl.DataFrame | None, drains: pl.DataFrame) -> pl.DataFrame:
    """Held-back drains that show a sign, as rows that can show it but clear nothing; columns as in `drains`."""
    if legible_drains is None:
        return drains.clear()
    shown = legible_drains.filter(pl.any_horizontal(pl.col(name).fill_null(False) for name in SIGNS))
    kept = ("unit_key", "unit_id", "site", "drained_on", *SIGNS)
    rows = shown.drop_nulls("drained_on").select(kept).with_columns(pl.lit("top-up").alias("service_kind"))
    alike = rows.cast({name: kind for name, kind in drains.schema.items() if name in rows.columns})
    return pl.concat([drains.clear(), alike], how="diagonal")


def with_held_back_limits(units: pl.DataFrame | None, legible_units: pl.DataFrame | None) -> pl.DataFrame | None:
    """The register with the limits of its held-back rows: the shorter stands where a unit has several."""
    if units is None or legible_units is None or not legible_units.height:
        return units
    lost = legible_units.select("unit_key", "unit_id", *LIMITS).filter(
        pl.any_horizontal(pl.col(name) > 0 for name in LIMITS)
    )
    shortest = lost.group_by("unit_key", maintain_order=True).agg(
        pl.col("unit_id").first(), *(pl.col(name).filter(pl.col(name) > 0).min() for name in LIMITS)
    )
    joined = units.join(shortest, on="unit_key", how="left", suffix="_lost", maintain_order="left")
    known = joined.with_columns(pl.min_horizontal(name, f"{name}_lost").alias(name) for name in LIMITS)
    new = shortest.join(units, on="unit_key", how="anti").with_columns(pl.lit(True).alias("in_service"))
    return pl.concat([known.select(units.columns), new], how="diagonal")


def with_held_back_days(rows: pl.DataFrame | None, legible: pl.DataFrame | None) -> pl.DataFrame | None:
    """Usage or bookings with the days of held-back rows added, their hours unknown."""
    if rows is None or legible is None or not legible.height:
        return rows
    lost = legible.drop_nulls("date").select("unit_key", "unit_id", "site", "date")
    return pl.concat([rows, lost], how="diagonal")
