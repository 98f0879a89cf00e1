"""How much oil each unit takes: what the register says, and what its drains were filled with."""

from __future__ import annotations

import polars as pl


def fill_volumes(drains: pl.DataFrame, units: pl.DataFrame | None) -> pl.DataFrame:
    """One row per unit with a known volume: unit_key, register_ml, logged_ml, fill_ml [ml].

    drains : accepted rows; units : the register, or None. logged_ml : median of what the unit's drains were filled
    with. fill_ml : the register's volume, else the logged one. Either of the first two may be null.
    """
    logged = pl.DataFrame(schema={"unit_key": pl.String, "logged_ml": pl.Float64})
    register = pl.DataFrame(schema={"unit_key": pl.String, "register_ml": pl.Float64})
    if "filled_ml" in drains.columns:
        logged = drains.group_by("unit_key").agg(pl.col("filled_ml").median().alias("logged_ml"))
    if units is not None and "fill_ml" in units.columns:
        register = units.select("unit_key", pl.col("fill_ml").alias("register_ml"))
        register = register.unique("unit_key", keep="last", maintain_order=True)
    logged = logged.with_columns(pl.col("unit_key").cast(pl.String))
    return (
        register.join(logged, on="unit_key", how="full", coalesce=True)
        .with_columns(pl.col("register_ml", "logged_ml").cast(pl.Float64))
        .with_columns(pl.coalesce("register_ml", "logged_ml").alias("fill_ml"))
        .drop_nulls("fill_ml")
        .sort("unit_key")
    )
