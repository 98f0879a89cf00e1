"""Whether the main spring runs in the oil that was drained.

In a closed cartridge the inner oil does not touch the main spring, and most coil-over shocks carry the spring outside
the oil (common practice, no source). Debris in such oil says nothing about the spring.
"""

from __future__ import annotations

import polars as pl

INNER_CHAMBERS = ("inner", "cartridge", "damper", "damping", "reservoir")
OUTER_CHAMBER = "outer"

INNER = "an inner chamber, whose oil does not touch the spring"
SHOCK = "a shock: most carry the spring outside, where this chamber's oil does not touch the spring"

_SHOCK = r"(?i)(?:^|[^a-z])(?:mono)?(?:shocks?|coil[\s-]?over)(?:[^a-z]|$)"
_REAR = r"(?i)(?:^|[^a-z])rear(?:[^a-z]|$)"


def with_shocks_marked(drains: pl.DataFrame, units: pl.DataFrame | None) -> pl.DataFrame:
    """The drains with `on_shock`: whether the unit is a shock by its position, machine or name.

    drains : accepted drains; units : the register, which has the positions, or None.
    """
    named = pl.col("unit_id").str.contains(_SHOCK) | pl.col("unit_id").str.contains(_REAR)
    if "machine" in drains.columns:
        named = named | pl.col("machine").cast(pl.String).str.contains(_SHOCK).fill_null(False)
    marked = drains.with_columns(named.fill_null(False).alias("on_shock"))
    if units is None:
        return marked
    positions = units.select("unit_key", pl.col("position").cast(pl.String)).unique("unit_key", keep="last")
    shocks = positions.filter(pl.col("position").str.contains(_SHOCK) | pl.col("position").str.contains(_REAR))
    return marked.with_columns(pl.col("on_shock") | pl.col("unit_key").is_in(shocks["unit_key"].implode()))


def springless(drains: pl.DataFrame) -> pl.Expr:
    """Words for a drain's oil where the spring does not run in it; null where it does.

    drains : the frame that the expression is for, which may lack on_shock. The spring of a shock counts as outside
    the oil unless the chamber is named as the outer one.
    """
    chamber = pl.col("chamber").cast(pl.String).str.strip_chars().str.to_lowercase()
    shock = pl.col("on_shock") if "on_shock" in drains.columns else pl.lit(False)
    return (
        pl.when(chamber.is_in(INNER_CHAMBERS))
        .then(pl.lit(INNER))
        .when(shock & (chamber != OUTER_CHAMBER).fill_null(True))
        .then(pl.lit(SHOCK))
        .otherwise(pl.lit(None, dtype=pl.String))
    )
