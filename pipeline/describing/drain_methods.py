"""What a way of draining leaves behind, for drains whose volumes nobody wrote down.

Common practice, no source: 2 to 6 % when pumped through and inverted, 8 to 20 % when only poured, nothing when the
unit is stripped.
"""

from __future__ import annotations

import polars as pl

LEFT_BEHIND: dict[str, tuple[float, float]] = {
    "strip": (0.0, 0.0),
    "pump": (0.02, 0.06),
    "pour": (0.08, 0.20),
}
"""Beginning of a word of the method: least and most share of the fill that stays behind."""


def most_left_behind(method: str | None) -> float | None:
    """Most that a way of draining commonly leaves; None where the way is not known."""
    words = "" if method is None else method.casefold()
    return next((most for word, (_, most) in LEFT_BEHIND.items() if word in words), None)


def volume_left() -> pl.Expr:
    """Share of the fill that a drain leaves behind by its volumes, null where one is not known."""
    return 1.0 - pl.col("drained_ml") / pl.col("filled_ml")


def method_left(drains: pl.DataFrame, dirtier: bool) -> pl.Expr:
    """The same by its way of draining, null where that is not known.

    drains : perhaps with drain_method; dirtier : the most that is common, which makes a prediction dirtier; otherwise
    the least, which gives the dirt that was seen no excuse.
    """
    found = pl.lit(None, dtype=pl.Float64)
    if "drain_method" in drains.columns:
        words = pl.col("drain_method").cast(pl.String).str.to_lowercase()
        for word, share in reversed(LEFT_BEHIND.items()):
            found = pl.when(words.str.contains(word, literal=True)).then(pl.lit(share[dirtier])).otherwise(found)
    return found
