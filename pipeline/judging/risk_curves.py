"""Risk against hours: for the fleet as it was drained, and for a typical unit on each spring and oil."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.special import ndtri

from draincurve.pipeline.fitting import ChannelFit, link_named, typical_threshold_draws
from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.settings import Settings

_POINTS = 48
_DRAWS = 200
_ROWS = 300
_UNIT_QUANTILES = ndtri((np.arange(16) + 0.5) / 16)
"""Equally likely quantiles of the unit effect."""


@dataclass(frozen=True, slots=True)
class RiskCurve:
    """Probability of a rating at or past the limit against hours, for a typical unit with this spring and oil.

    hours, risk, low, high : arrays, shape (m,); hours [h], the others probabilities: the posterior predictive risk,
    by which intervals are set, and the 5 % and 95 % posterior points.
    """

    spring_type: str
    oil_grade: str
    hours: Floats
    risk: Floats
    low: Floats
    high: Floats


def fleet_curve(fit: ChannelFit, settings: Settings) -> RiskCurve:
    """Risk of a drain drawn from the fleet's own drains, over springs, oils, riders and units.

    This is what the isotonic estimate behind it sees: no covariate is held fixed.
    """
    hours = _grid(fit, settings)
    rows = np.unique(np.linspace(0, fit.drains.low.size - 1, _ROWS).astype(int))
    draws = _some_draws(fit)
    units, of_row = np.unique(fit.unit_index(fit.drains.units[rows].tolist()), return_inverse=True)
    added = fit.coefficients[draws] @ fit.drains.design_of(rows).T
    added += fit.unit_sd[draws, None] * fit.effects_of(units)[np.ix_(draws, of_row)]
    limit = settings.limit_rating(fit.drains.channel)
    return _curve("", "", hours=hours, fit=fit, thresholds=fit.threshold_of(limit)[draws, None] - added, draws=draws)


def combination_curves(
    fit: ChannelFit, combinations: pl.DataFrame, *, settings: Settings, rng: np.random.Generator
) -> tuple[RiskCurve, ...]:
    """Risk of a unit without history on each spring and oil, averaged over units.

    combinations : columns spring_type and oil_grade with the conditions of a fill (see fill_conditions).
    """
    hours = _grid(fit, settings)
    draws = _some_draws(fit)
    limit = settings.limit_rating(fit.drains.channel)
    thresholds = typical_threshold_draws(fit, combinations, limit=limit, priors=settings.priors, rng=rng)[:, draws]
    units = fit.unit_sd[draws, None] * _UNIT_QUANTILES
    return tuple(
        _curve(
            row["spring_type"],
            row["oil_grade"],
            hours=hours,
            fit=fit,
            thresholds=thresholds[index][:, None] - units,
            draws=draws,
        )
        for index, row in enumerate(combinations.iter_rows(named=True))
    )


def _curve(
    spring_type: str, oil_grade: str, *, hours: Floats, fit: ChannelFit, thresholds: Floats, draws: Integers
) -> RiskCurve:
    """Posterior mean and points of the mean risk over the second axis of adjusted thresholds (draws, units)."""
    link = link_named(fit.fit.link)
    by_draw = np.empty((draws.size, hours.size))
    for index, log_hours in enumerate(np.log(hours)):
        by_draw[:, index] = link.survival(thresholds - (fit.hours_slope[draws] * log_hours)[:, None]).mean(axis=1)
    low, high = np.quantile(by_draw, (0.05, 0.95), axis=0)
    return RiskCurve(spring_type, oil_grade, hours, by_draw.mean(axis=0), low, high)


def _grid(fit: ChannelFit, settings: Settings) -> Floats:
    longest = float(np.exp(np.max(fit.drains.log_hours)))
    return np.linspace(0.02, 1.0, _POINTS) * longest * settings.data_range_factor


def _some_draws(fit: ChannelFit) -> Integers:
    return np.unique(np.linspace(0, fit.draws - 1, _DRAWS).astype(np.int64))
