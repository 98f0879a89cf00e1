"""Old oil that stays in a unit at a drain: by its volumes, or else by its drain method.

Common practice, no source: 2 to 6 % of the fill when pumped through and inverted, 8 to 20 % when only poured, nothing
when the unit is stripped.
"""

from __future__ import annotations

import polars as pl

LEFT_BEHIND: dict[str, tuple[float, float]] = {
    "strip": (0.0, 0.0),
    "pump": (0.02, 0.06),
    "pour": (0.08, 0.20),
}
"""Stem of a drain method to the least and the greatest share of the fill that usually stays behind."""


def most_left_behind(method: str | None) -> float | None:
    """Greatest share that usually stays behind, or None for an unknown method."""
    words = "" if method is None else method.casefold()
    return next((most for stem, (_, most) in LEFT_BEHIND.items() if stem in words), None)


def volume_left() -> pl.Expr:
    """Share of the fill that a drain left behind, from its volumes; null where one is not known."""
    return 1.0 - pl.col("drained_ml") / pl.col("filled_ml")


def method_left(drains: pl.DataFrame, *, dirtier: bool) -> pl.Expr:
    """Share of the fill that stays behind by drain method; null where the method is not known.

    drains : the frame that the expression is for, which may lack drain_method; dirtier : True for the greatest usual
    share, which a prediction assumes, False for the least, which gives a fit no excuse for dirt.
    """
    share_left = pl.lit(None, dtype=pl.Float64)
    if "drain_method" in drains.columns:
        words = pl.col("drain_method").cast(pl.String).str.to_lowercase()
        for stem, shares in reversed(LEFT_BEHIND.items()):
            share_left = (
                pl.when(words.str.contains(stem, literal=True)).then(pl.lit(shares[dirtier])).otherwise(share_left)
            )
    return share_left
