"""A random sample of a large fleet's units, for comparisons that need no more. Legs of a machine stay together."""

from __future__ import annotations

import numpy as np
import polars as pl


def sampled_state(state: pl.DataFrame, rng: np.random.Generator, *, units: int | None) -> pl.DataFrame:
    """Rows of about `units` random units, in their order; all rows where there are no more, or for None.

    state : as `fleet_state` gives it. Whole motorcycles are drawn until the sample has `units` units or a few more;
    a unit without a motorcycle is drawn by itself.
    """
    if units is None or state.height <= units:
        return state
    by_unit = pl.concat_str(pl.lit("\u001f"), "unit_key")
    by_machine = pl.concat_str(pl.col("site").fill_null(""), pl.lit("\u001f"), "machine")
    groups = state.select(pl.coalesce(by_machine, by_unit).rank("dense").alias("group")).to_series().to_numpy() - 1
    counts = np.bincount(groups)
    order = rng.permutation(counts.size)
    taken = order[: int(np.searchsorted(np.cumsum(counts[order]), units)) + 1]
    return state.filter(pl.Series(np.isin(groups, taken)))


def sample_note(state: pl.DataFrame, sample: pl.DataFrame) -> tuple[str, ...]:
    """A sentence on what the sample is used for, if there is one."""
    if sample.height == state.height:
        return ()
    return (
        f"The fleet is large: intervals, dates and standings are of all {state.height:,} units. Springs, raters, "
        f"shapes of the curve and legs are compared on {sample.height:,} of them, drawn at random by motorcycle; "
        "earlier predictions are tried on fewer still.",
    )
