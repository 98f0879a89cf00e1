"""One rater's own scale beside the others': one that runs from 0 to 4, or one that ends at 3."""

from __future__ import annotations

from collections.abc import Sequence
from math import log

import numpy as np
import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding
from draincurve.pipeline.reading.validating.scale_ends import SHORT_END
from draincurve.pipeline.reading.validating.zero_scale import FEWEST_ZEROS, LEAST_SHARE, ZERO
from draincurve.schemas.array_types import Floats
from draincurve.schemas.channels import CHANNELS, RATING_HIGH, Channel
from draincurve.schemas.settings import Settings

FALSE_ALARM = 1e-3
"""Probability that any rater who rates as the others do gives none of their levels over 3."""
OF_A_MILD_RATER = 0.04
"""The same of a rater who is one level milder than the others."""
FEWEST_AT_END = 3
"""Ratings of 3 by that rater, at least."""
MOST_GROUPS, FEWEST_OF_A_GROUP = 8, 5
"""Groups of the others' fills of about the same hours, and the fewest fills in one."""
_UP_TO = {1: 2, 2: 4, 3: RATING_HIGH}
"""Highest level of five that each of three may be."""
_KEEP = "Correct the cells, or keep them: yes in a column headed confirmed. Until then"


def with_scales_of_raters(drains: WorkingTable, settings: Settings) -> WorkingTable:
    """Asks about raters whose scale likely is another one than the others', and counts their ratings as dirtier.

    One level dirtier where the scale may run from 0 to 4; from the rating up to the dirtiest that it may be where the
    scale may end at 3. Rows that are confirmed are not changed.
    """
    raters = drains.parsed["rated_by"].drop_nulls().n_unique()
    channels = [
        channel
        for channel in CHANNELS
        if channel.rating in drains.raw.columns and channel.rating not in settings.clean_end
    ]
    if raters < 2 or not channels:
        return drains
    rated = drains.parsed.select(
        pl.col("rated_by").cast(pl.String).alias("rater"),
        pl.col("oil_hours").alias("hours"),
        *[level for channel in channels for level in (channel.low, channel.high)],
        *[_is_zero(drains.raw[channel.rating]) for channel in channels],
    )
    for rater in _from_zero(rated, channels):
        drains = _asked(drains, channels, rater, from_zero=True)
    for rater in _up_to_three(rated, channels):
        drains = _asked(drains, channels, rater, from_zero=False)
    return drains


def _is_zero(cells: pl.Series) -> pl.Series:
    """Whether each cell says 0, found from the distinct texts."""
    texts = cells.unique()
    zeros = texts.filter(texts.cast(pl.String).str.contains(ZERO).fill_null(False))
    if zeros.is_empty():
        return pl.repeat(False, cells.len(), dtype=pl.Boolean, eager=True).alias(cells.name)
    return cells.is_in(zeros.implode()).fill_null(False)


def _from_zero(rated: pl.DataFrame, channels: Sequence[Channel]) -> list[str]:
    """The rater who alone gives 0, more than as a slip, and gives no 5; empty without one."""
    zeros = rated.select("rater", pl.sum_horizontal(channel.rating for channel in channels).alias("zeros"))
    by_rater = zeros.group_by("rater").agg(pl.col("zeros").sum(), pl.len().alias("rows")).filter(pl.col("zeros") > 0)
    rater = by_rater["rater"].first() if by_rater.height == 1 else None
    if not isinstance(rater, str) or by_rater["zeros"][0] < max(FEWEST_ZEROS, LEAST_SHARE * by_rater["rows"][0]):
        return []
    return [rater] if _highest(rated, channels).get(rater, 0) < RATING_HIGH else []


def _highest(rated: pl.DataFrame, channels: Sequence[Channel]) -> dict[str, int]:
    highest = rated.drop_nulls("rater").group_by("rater").agg(pl.col(channel.high).max() for channel in channels)
    most = highest.select("rater", pl.max_horizontal(channel.high for channel in channels).alias("most"))
    return dict(most.drop_nulls().iter_rows())


def _up_to_three(rated: pl.DataFrame, channels: Sequence[Channel]) -> list[str]:
    """Raters whose ratings end at 3 where the others often give 4 and 5 after as many hours."""
    known = rated.filter(pl.col("hours") > 0)
    ending = sorted(rater for rater, most in _highest(known, channels).items() if most == SHORT_END)
    found = []
    for rater in ending:
        mine = known.filter(pl.col("rater") == rater)
        others = known.filter(pl.col("rater").ne_missing(rater))
        at_end = sum(int((mine[channel.low] == SHORT_END).sum()) for channel in channels)
        none_over = [
            np.mean([_log_chance_of_none(mine, others, channel, over=over) for channel in channels])
            for over in (SHORT_END, SHORT_END + 1)
        ]
        limits = (log(FALSE_ALARM / len(ending)), log(OF_A_MILD_RATER))
        if at_end >= FEWEST_AT_END and all(chance <= limit for chance, limit in zip(none_over, limits, strict=True)):
            found.append(rater)
    return found


def _log_chance_of_none(mine: pl.DataFrame, others: pl.DataFrame, channel: Channel, *, over: int) -> float:
    """The logarithm of the probability that no rating of mine is over a level, by the others' after as many hours."""
    rated, compared = mine.drop_nulls(channel.low), others.drop_nulls(channel.low)
    if compared.height < FEWEST_OF_A_GROUP:
        return 0.0
    hours: Floats = compared["hours"].to_numpy()
    groups = max(1, min(MOST_GROUPS, hours.size // FEWEST_OF_A_GROUP))
    edges = np.quantile(hours, np.arange(1, groups) / groups)
    group = np.searchsorted(edges, hours)
    dirty = np.bincount(group, weights=(compared[channel.low] > over).to_numpy(), minlength=groups)
    share = (dirty + 0.5) / (np.bincount(group, minlength=groups) + 1.0)
    return float(np.log1p(-share)[np.searchsorted(edges, rated["hours"].to_numpy())].sum())


def _asked(drains: WorkingTable, channels: Sequence[Channel], rater: str, *, from_zero: bool) -> WorkingTable:
    """The drains with the question about a rater, and with that rater's ratings as they count until the answer."""
    if from_zero:
        message = (
            f"0 by '{rater}' alone, and no {RATING_HIGH}: is that scale 0 to 4? {_KEEP} one level dirtier counts"
        )
    else:
        message = (
            f"none by '{rater}' over {SHORT_END}, where others give 4 and 5: does that scale end there? "
            f"{_KEEP} {SHORT_END} may be {RATING_HIGH}"
        )
    theirs = (pl.col("rated_by").cast(pl.String) == rater) & ~pl.col("confirmed").fill_null(False)
    values, findings = [], []
    for channel in channels:
        low, high = pl.col(channel.low), pl.col(channel.high)
        as_dirty = (low + 1, high + 1) if from_zero else (low, high.replace_strict(_UP_TO, default=high))
        values += [
            pl.when(theirs).then(level).otherwise(typed).cast(drains.parsed.schema[name]).alias(name)
            for level, typed, name in zip(as_dirty, (low, high), (channel.low, channel.high), strict=True)
        ]
        header = drains.headers.get(channel.rating, channel.rating)
        findings.append(file_finding(channel.rating, header, kind="asked", message=message))
    return drains.with_parsed(drains.parsed.with_columns(values)).with_findings(*findings)
