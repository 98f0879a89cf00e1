"""Predictions of the model: fitted to the drains before an origin, evaluated at the drains after it.

The fit is the posterior mode with the Gaussian around it, which costs a fraction of the full posterior. On the sample
fleets its scores are within 0.002 of the full posterior's, either way, and its coverage within 0.02. Each draw of the
parameters comes with a draw of every unit's effect given the unit's own drains before the origin. The effect of a
unit without such drains is drawn from the distribution of units.

What a plan takes out of its fit is taken out here, too, as far as the drains before the origin show it: drains rated
twice tell how raters differ, and a rater who is found to drift has a random walk, which goes on from where it was.
"""

from __future__ import annotations

import numpy as np
import polars as pl

from draincurve.pipeline.describing import RatedDrains
from draincurve.pipeline.fitting import (
    ChannelFit,
    drift_since,
    drifting_raters,
    fit_mode,
    fit_processing_of,
    link_named,
    normal_posterior,
    rater_drifts,
    threshold_draws,
    with_double_ratings,
    with_draws,
    with_drift_columns,
)
from draincurve.schemas.array_types import Floats
from draincurve.schemas.settings import Priors, Settings

MOST_DRAWS, FEWEST_DRAWS = 200, 80
_DRAINS_TIMES_DRAWS = 100_000  # with more drains the posterior is narrower, and fewer draws are enough


def fit_as_of(drains: RatedDrains, settings: Settings, *, rng: np.random.Generator) -> ChannelFit:
    """The fit of a channel to the drains known at an origin, with draws from the Gaussian at the mode."""
    fit = _drawn(drains, settings, rng=rng)
    drifting = drifting_raters(rater_drifts(fit))
    if drifting:
        fit = _drawn(with_drift_columns(drains, drifting), settings, rng=rng)
    return with_double_ratings(fit).with_effects()


def _drawn(drains: RatedDrains, settings: Settings, *, rng: np.random.Generator) -> ChannelFit:
    """The mode with its draws, without those of unit effects."""
    processing = fit_processing_of(drains)
    drains = drains.with_unseen_levels_merged(settings.limit_rating(drains.channel))
    fit = fit_mode(drains, settings, processing=processing)
    draws = int(np.clip(_DRAINS_TIMES_DRAWS // fit.order.size, FEWEST_DRAWS, MOST_DRAWS))
    half = rng.standard_normal((draws // 2, fit.maximum.point.working.size))
    # In antithetic pairs, so that few draws have their mean at the mode.
    posterior = normal_posterior(fit, np.vstack((half, -half)))
    return with_draws(drains, fit, posterior=posterior, rng=rng, processing=processing)


def predicted_rating_probabilities(
    fit: ChannelFit, rows: pl.DataFrame, *, priors: Priors, rng: np.random.Generator
) -> Floats:
    """Predicted probability of each rating, (rows, K), at the hours at which each row was drained.

    rows : later drains with unit_key, oil_hours [h] and the columns of the fit's terms; their ratings are not used.
    """
    link = link_named(fit.fit.link)
    first = threshold_draws(fit, rows, limit=2, priors=priors, rng=rng)
    first -= drift_since(fit, rows, rng=rng)
    first -= np.log(rows["oil_hours"].to_numpy())[:, None] * fit.hours_slope
    above = fit.thresholds - fit.thresholds[:, :1]
    at_least = [link.survival(first + gap).mean(axis=1) for gap in above.T]
    ends = np.ones(rows.height), np.zeros(rows.height)
    exactly = -np.diff(np.column_stack((ends[0], *at_least, ends[1])), axis=1)
    assert fit.drains.groups is not None, "levels are merged before a fit"
    as_rated = np.zeros_like(exactly)
    np.add.at(as_rated.T, fit.drains.groups.rated_as - 1, exactly.T)
    return as_rated
