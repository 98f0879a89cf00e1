"""Fits of a sample of a large fleet, on which is judged what needs few units."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from draincurve.pipeline.describing.categorical_names import as_texts
from draincurve.pipeline.describing.rated_drains import describe
from draincurve.pipeline.fitting.channel_fit import ChannelFit, fit_sample
from draincurve.pipeline.fitting.random_streams import stream
from draincurve.schemas.settings import Settings


def sample_fits(
    found: Mapping[str, ChannelFit | str], drains: pl.DataFrame, few: pl.DataFrame, settings: Settings
) -> dict[str, ChannelFit | str]:
    """By channel, the fit of the sample's drains, where the channel's fit lacks draws of its units' effects.

    found : the channels' fits, or why there is none; few : the sample's units, as `sampled_state` gives them.
    """
    own = as_texts(drains.filter(pl.col("unit_key").is_in(few["unit_key"].implode())))
    fits: dict[str, ChannelFit | str] = {}
    for channel, fit in found.items():
        fits[channel] = fit
        if isinstance(fit, ChannelFit) and fit.effects is None:
            rated = describe(own, channel)
            if rated.low.size:
                fits[channel] = fit_sample(rated, settings, stream(settings.seed, f"sample {channel}"))
    return fits
