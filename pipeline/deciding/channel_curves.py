"""Risk curves of rows, units or combinations, for every fitted channel."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.hours_curves import HoursCurves
from draincurve.pipeline.fitting import ChannelFit, adjusted_thresholds
from draincurve.schemas.settings import Settings


def channel_curves(
    fits: Mapping[str, ChannelFit], rows: pl.DataFrame, settings: Settings, rng: np.random.Generator
) -> dict[str, HoursCurves]:
    """Channel to curves whose rows stand as those of the frame; empty without rows.

    rows : unit_key and the columns of the fits' terms, with the conditions of the fill now running.
    """
    return {
        channel: HoursCurves(
            adjusted_thresholds(fit, rows, limit=settings.limit_rating(channel), priors=settings.priors, rng=rng),
            fit.hours_slope,
            settings.link,
        )
        for channel, fit in fits.items()
        if rows.height
    }
