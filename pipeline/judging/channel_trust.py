"""What decides whether one channel can be trusted: raters, links, exact bounds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from draincurve.pipeline.describing import RatedDrains
from draincurve.pipeline.fitting import ChannelFit, RaterDrift
from draincurve.pipeline.judging.clean_bounds import CleanBounds, clean_bounds
from draincurve.pipeline.judging.link_choice import LinkChoice, compare_links
from draincurve.pipeline.judging.raters.rater_result import RaterResult, judge_raters
from draincurve.schemas.settings import Settings


@dataclass(frozen=True, slots=True)
class ChannelTrust:
    """One channel.

    raters : None without a fit; links : a sentence where they were not compared; bounds : None where they say
    nothing.
    """

    channel: str
    raters: RaterResult | None
    links: LinkChoice | str
    bounds: CleanBounds | None


def channel_trust(
    rated: RatedDrains,
    fit: ChannelFit | str,
    *,
    few: ChannelFit | str,
    second_ratings: pl.DataFrame,
    drifts: Sequence[RaterDrift] | None,
    combinations: pl.DataFrame,
    settings: Settings,
    reference_rater: str | None,
) -> ChannelTrust:
    """Everything about one channel; where there is no fit, only what does not need one.

    rated : the channel's drains; few : the fit of a sample of the fleet, or the same fit; second_ratings : see Log
    combinations : springs and oils in use with the conditions of a fill; drifts, reference_rater : as `judge_raters`
    takes them
    """
    channel = rated.channel
    bounds = clean_bounds(channel, settings.limit_rating(channel), rows=rated.rows)
    if isinstance(fit, str) or isinstance(few, str):
        return ChannelTrust(channel, None, str(fit), bounds)
    return ChannelTrust(
        channel,
        judge_raters(few, few.drains.rows, second_ratings=second_ratings, reference=reference_rater, drifts=drifts),
        compare_links(few, combinations, settings=settings),
        bounds,
    )
