"""Warnings to read before trusting the answers, one plain sentence each."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import polars as pl

from draincurve.pipeline.describing import oil_changes
from draincurve.pipeline.judging.channel_result import ChannelResult
from draincurve.pipeline.judging.estimable_contrasts import hidden_by_calendar
from draincurve.schemas.channels import CHANNELS, title_of

BARELY_MOVED = 0.9
"""Posterior over prior sd from which the log is not informative about a parameter."""


def fit_warnings(channels: Sequence[ChannelResult], drains: pl.DataFrame) -> tuple[str, ...]:
    """Sentences on channels without a fit, rough draws, hours that do not vary enough, oils and all-clean ratings.

    drains : accepted drains, of which all ratings may be 1, and an oil may have come in for all units at one time.
    """
    warnings: list[str] = []
    for channel in channels:
        if channel.why_not is not None:
            warnings.append(f"{title_of(channel.channel)}: {channel.why_not}.")
            continue
        if channel.diagnostics is not None and channel.diagnostics.message:
            warnings.append(f"{title_of(channel.channel)}: {channel.diagnostics.message}.")
        warnings.extend(_about_hours(channel))
        warnings.extend(_about_ratings(channel))
    warnings.extend(_about_oils(drains))
    warnings.extend(_about_looking(drains))
    return tuple(warnings)


def _about_hours(channel: ChannelResult) -> list[str]:
    slope = next(item for item in channel.prior_movement if item.parameter == "hours slope")
    hours = channel.ratings["oil_hours"].to_numpy()
    if slope.ratio < BARELY_MOVED:
        return []
    return [
        f"{title_of(channel.channel)}: the log cannot tell hours apart (drains at {hours.min():.3g} to "
        f"{hours.max():.3g} h); how ratings grow with hours is the prior's word. Stagger some drains, some earlier, "
        "some later within the limits."
    ]


def _about_ratings(channel: ChannelResult) -> list[str]:
    past = channel.ratings["past_limit"].drop_nulls()
    if past.len() and past.sum() == 0:
        longest = float(np.max(channel.ratings["oil_hours"].to_numpy()))
        return [
            f"{title_of(channel.channel)}: no drain was past the limit, so the limit is beyond the longest fill "
            f"seen ({longest:.3g} h); go further in cautious steps only."
        ]
    if past.len() and past.sum() == past.len():
        return [f"{title_of(channel.channel)}: every drain was past the limit; the safe hours lie below all of them."]
    return []


def _about_oils(drains: pl.DataFrame) -> list[str]:
    """One sentence for each oil that the calendar hides from all that were in use before it."""
    rows = oil_changes(drains, ["oil_grade", "drained_on"]).drop_nulls()
    days = rows.group_by("oil_grade").agg(
        pl.min("drained_on").alias("first"), pl.median("drained_on").alias("middle")
    )
    oils = days.with_columns(pl.col("oil_grade").cast(pl.String)).sort("middle", "oil_grade")
    hidden = hidden_by_calendar(rows, "oil_grade")
    names = oils["oil_grade"].to_list()
    return [
        f"No drain of {name} is from before {first:%B %Y}: what else changed then cannot be told from the oil."
        for index, (name, first) in enumerate(zip(names, oils["first"], strict=True))
        if index and all(hidden[min(name, before), max(name, before)] for before in names[:index])
    ]


def _about_looking(drains: pl.DataFrame) -> list[str]:
    """A log in which every rating is 1 may be one in which nobody inspects the oil."""
    ratings = drains.select(channel.high for channel in CHANNELS)
    rated = sum(ratings[name].count() for name in ratings.columns)
    if rated >= 5 and ratings.max().max_horizontal().item() == 1:
        return ["Every rating in the log is 1: ask whether anyone looks."]
    return []
