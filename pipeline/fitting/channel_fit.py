"""One channel fitted: the rating model on a channel's drains, with draws of everything that decisions need."""

from __future__ import annotations

from contextlib import nullcontext
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.describing.rated_drains import RatedDrains
from pipeline.fitting.one_thread import one_thread
from pipeline.fitting.posterior import Posterior, sample_posterior
from pipeline.fitting.rating_model import RatingFit, fit_rating_model
from pipeline.fitting.unit_effects import draw_unit_effects
from schemas.settings import RATING_LEVELS, Settings

Floats = NDArray[np.float64]

SMALL_LOG_DRAINS = 5_000
"""Under this a pass over the drains is shorter than handing it to several threads."""

LARGE_LOG_DRAINS = 20_000
LARGE_LOG_DRAWS = 400
"""Draws kept for large logs, whose posterior is narrow: the noise of fewer draws is then small beside it."""


@dataclass(frozen=True)
class ChannelFit:
    """Draws of one channel's parameters, S of them, on the scale of log hours.

    thresholds (S, K - 1); hours_slope (S,); coefficients (S, p), columns as in `drains.terms`; unit_spread (S,);
    group_spreads (S, G), one for each pooled term; effects (S, U), units as in `unit_keys`, in sd of the unit effect.
    """

    drains: RatedDrains
    fit: RatingFit
    posterior: Posterior
    thresholds: Floats
    hours_slope: Floats
    coefficients: Floats
    unit_spread: Floats
    group_spreads: Floats
    effects: Floats
    unit_keys: tuple[str, ...]

    @property
    def draws(self) -> int:
        """Number of draws S."""
        return int(self.hours_slope.size)


def fit_channel(drains: RatedDrains, settings: Settings, rng: np.random.Generator) -> ChannelFit | str:
    """The fit of a channel, or a sentence why there is none.

    drains : one channel's rated drains; rng : seeded generator for the posterior's draws.
    """
    if drains.low.size == 0:
        return (
            f"no drain with known hours has a {drains.channel} rating, so nothing can be said from {drains.channel}"
        )
    fit = fit_mode(drains, settings)
    draws = settings.posterior_draws if drains.low.size <= LARGE_LOG_DRAINS else LARGE_LOG_DRAWS
    return with_draws(drains, fit, sample_posterior(fit, draws, rng), rng)


def fit_mode(drains: RatedDrains, settings: Settings) -> RatingFit:
    """The posterior mode of a channel's rating model under the shop's settings; drains must hold at least one row."""
    with one_thread() if drains.low.size < SMALL_LOG_DRAINS else nullcontext():
        return fit_rating_model(
            drains.low,
            drains.log_hours,
            drains.design,
            drains.units,
            link=settings.link,
            n_nodes=settings.quadrature_nodes,
            prior=settings.priors,
            ratings_high=drains.high,
            levels=RATING_LEVELS,
            pooled=drains.pooled(),
            column_scales=drains.column_scales(),
        )


def with_draws(drains: RatedDrains, fit: RatingFit, posterior: Posterior, rng: np.random.Generator) -> ChannelFit:
    """A fit with its draws on the scale of log hours, and with draws of every unit's effect."""
    thresholds, columns, spread = fit.natural_draws(posterior.draws)
    plan = fit.objective.plan
    return ChannelFit(
        drains=drains,
        fit=fit,
        posterior=posterior,
        thresholds=thresholds,
        hours_slope=columns[:, 0],
        coefficients=columns[:, 1:],
        unit_spread=spread,
        group_spreads=np.exp(posterior.draws[:, plan.group_spreads]),
        effects=draw_unit_effects(fit.objective.likelihood, plan.natural(posterior.draws), rng),
        unit_keys=tuple(str(label) for label in fit.unit_labels),
    )
