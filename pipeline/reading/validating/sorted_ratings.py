"""A column of ratings that was sorted by itself: each rating then stands beside another row's hours."""

from __future__ import annotations

from math import lgamma, log

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding
from draincurve.schemas.channels import CHANNELS, Channel

BY_CHANCE = 1e-6
"""Probability of ratings in order by chance, under which they are asked about."""
FEWEST_LEVELS = 3
IN_ORDER = 0.9
"""Share of steps from row to row in one direction, from which the dates are in order."""


def without_sorted_ratings(drains: WorkingTable) -> WorkingTable:
    """Asks about ratings that are in order down a file whose dates are, too, or whose rows are sorted by unit.

    Until they are confirmed they are not known. A file that was sorted by its ratings as a whole is not in order of
    dates, nor of units.
    """
    for channel in CHANNELS:
        if channel.rating not in drains.raw.columns:
            continue
        confirmed = pl.col("confirmed").fill_null(False)
        rated = drains.parsed_where(
            pl.col(channel.low).is_not_null() & ~confirmed, "_row", channel.low, "drained_on", "unit_key"
        ).sort("_row")
        if not _sorted_by_itself(rated, channel):
            continue
        header = drains.headers.get(channel.rating, channel.rating)
        message = (
            f"{channel.name} ratings are in order down the file, as dates or units are: was the column sorted alone? "
            "Restore it, or keep it: yes in a column headed confirmed; until then they are not known"
        )
        unknown = [pl.when(confirmed).then(level).alias(level) for level in (channel.low, channel.high)]
        drains = drains.with_parsed(drains.parsed.with_columns(unknown)).with_findings(
            file_finding(channel.rating, header, kind="asked", message=message)
        )
    return drains


def _sorted_by_itself(rated: pl.DataFrame, channel: Channel) -> bool:
    levels = rated[channel.low]
    counts = levels.value_counts()["count"].to_list()
    if len(counts) < FEWEST_LEVELS or not (levels.is_sorted() or levels.is_sorted(descending=True)):
        return False
    orders = lgamma(levels.len() + 1) - sum(lgamma(count + 1) for count in counts)  # logarithm of how many there are
    if orders < -log(BY_CHANCE / 2):
        return False
    steps = rated["drained_on"].drop_nulls().cast(pl.Int32).diff().drop_nulls()
    in_order = max(int((steps >= 0).sum()), int((steps <= 0).sum()))
    units = rated["unit_key"].drop_nulls()
    by_unit = int((units != units.shift()).sum()) + 1 <= units.n_unique() < units.len() / 2
    return in_order >= IN_ORDER * max(1, steps.len()) or by_unit
