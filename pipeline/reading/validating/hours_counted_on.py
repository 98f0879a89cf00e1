"""Hours that a spreadsheet counted on: 12, 13, 14 and so on down the rows, where somebody meant to copy the first."""

from __future__ import annotations

import polars as pl

BY_CHANCE = 1e-5
"""Expected number of such runs in a log, under which a run is no chance."""
FEWEST_STEPS = 4


def counted_on(hours: pl.Series) -> pl.Series:
    """Whether each fill's hours likely are those of the row above plus 1, counted on.

    hours : [h], in the order of the file. Where they are in order as a whole, the file was sorted by them: none is.

    >>> counted_on(pl.Series([7.5, 12, 9, 12, 13, 14, 15, 16, 17, 8.5, 11, 9, 20.5])).arg_true().to_list()
    [4, 5, 6, 7, 8]
    """
    nothing = pl.repeat(False, hours.len(), eager=True, dtype=pl.Boolean)
    if hours.len() <= FEWEST_STEPS or hours.is_sorted() or hours.is_sorted(descending=True):
        return nothing
    share = hours.alias("value").value_counts(name="count").with_columns(pl.col("count") / hours.len())
    one_more = share.select(pl.col("value") - 1.0, pl.col("count").alias("next"))
    chance = share.join(one_more, on="value").select((pl.col("count") * pl.col("next")).sum()).item()
    steps = pl.DataFrame({"is_step": (hours.diff() == 1.0).fill_null(False)})
    length = pl.len().over(pl.col("is_step").rle_id())
    likely = (length >= FEWEST_STEPS) & (hours.len() * pl.lit(chance).pow(length) <= BY_CHANCE)
    return steps.select(pl.col("is_step") & likely).to_series()
