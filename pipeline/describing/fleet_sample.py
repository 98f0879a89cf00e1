"""A random sample of a large fleet's units, for answers that need no more; legs stay together."""

from __future__ import annotations

import numpy as np
import polars as pl


def sampled_state(state: pl.DataFrame, rng: np.random.Generator, *, units: int | None) -> pl.DataFrame:
    """Rows of units drawn at random, in order; all rows where they are no more than wanted.

    state : as `fleet_state` gives it; units : how many are wanted, None for all. Motorcycles are drawn, and units
    without one each by itself, until so many units are reached.
    """
    if units is None or state.height <= units:
        return state
    alone = pl.concat_str(pl.lit("\u001f"), "unit_key")
    together = pl.concat_str(pl.col("site").fill_null(""), pl.lit("\u001f"), "machine")
    groups = state.select(pl.coalesce(together, alone).rank("dense").alias("group")).to_series().to_numpy() - 1
    counts = np.bincount(groups)
    order = rng.permutation(counts.size)
    taken = order[: int(np.searchsorted(np.cumsum(counts[order]), units)) + 1]
    return state.filter(pl.Series(np.isin(groups, taken)))


def sample_note(state: pl.DataFrame, few: pl.DataFrame) -> tuple[str, ...]:
    """What rests on the sample, in a sentence; nothing where there is none."""
    if few.height == state.height:
        return ()
    return (
        f"The fleet is large: intervals, dates and standings are of all {state.height:,} units. Springs, raters, "
        f"shapes of the curve and legs are compared on {few.height:,} of them, drawn at random by motorcycle; "
        "earlier predictions are tried on fewer still.",
    )
