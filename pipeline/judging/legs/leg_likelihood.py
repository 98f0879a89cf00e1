"""The likelihood of a leg's hours ratio from its own ratings alone, without information from other units.

All parameters of the fit are fixed at their posterior means: both legs of a pair share nearly all of them, so their
uncertainty hardly affects the difference.
"""

from __future__ import annotations

import numpy as np

from draincurve.pipeline.fitting import ChannelFit
from draincurve.schemas.array_types import Floats, Integers

WIDE_SD = 0.7
"""Prior sd of a leg [log hours ratio]: two in three are from 0.5 to 2 times the fleet's hours. The fleet's own sd is
unsuitable: it is small where two legs look alike on the whole because their entries were swapped."""

GRID = np.linspace(-4.0, 4.0, 65) * WIDE_SD
"""Log hours ratios at which the likelihood of a leg's ratings is evaluated."""

_LOG_WEIGHTS = -0.5 * np.square(GRID / WIDE_SD)
LOG_PRIOR: Floats = _LOG_WEIGHTS - np.log(np.exp(_LOG_WEIGHTS).sum())

UNITS_AT_ONCE = 2000
"""Units evaluated on the grid together, which bounds the memory of a large fleet."""

LEAST_INFORMATION = 0.1 / WIDE_SD**2
"""Information below a tenth of the wide prior's counts as none."""

FALSE_ALARM = 0.10
"""Probability that any pair is named, or any swap asked about, in a fleet without one (our choice)."""


def rating_log_likelihoods(fit: ChannelFit, rows: Integers) -> Floats:
    """Log probability of each rating if its leg's hours ratio is that of the grid point, (rows, Q).

    rows : indices into the fit's drains.
    """
    drains, link = fit.drains, fit.fit.objective.likelihood.link
    slope = fit.hours_slope.mean()
    thresholds = np.concatenate(([-np.inf], fit.thresholds.mean(axis=0), [np.inf]))
    eta = slope * drains.log_hours[rows] + drains.design_of(rows) @ fit.coefficients.mean(axis=0)
    predictor = eta[:, None] - slope * GRID
    upper, lower = (
        thresholds[drains.high[rows]][:, None] - predictor,
        thresholds[drains.low[rows] - 1][:, None] - predictor,
    )
    probability = np.minimum(link.cdf(upper) - link.cdf(lower), link.survival(lower))
    return np.asarray(np.log(np.maximum(probability, 1e-300)))


def leg_estimates(fit: ChannelFit, starts: Integers) -> tuple[Floats, Floats]:
    """Log hours ratio of every unit of a fit by its own ratings, and its variance, (U,) each, as `own_estimates`.

    starts : (U,) first drain of each unit, drains being sorted by unit.
    """
    bounds = np.append(starts, fit.drains.low.size)
    pieces = []
    for first in range(0, starts.size, UNITS_AT_ONCE):
        last = min(first + UNITS_AT_ONCE, starts.size)
        rows = np.arange(bounds[first], bounds[last])
        pieces.append(
            own_estimates(np.add.reduceat(rating_log_likelihoods(fit, rows), starts[first:last] - bounds[first]))
        )
    ratios, variances = zip(*pieces, strict=True)
    return np.concatenate(ratios), np.concatenate(variances)


def own_estimates(log_likelihood: Floats) -> tuple[Floats, Floats]:
    """Log hours ratio of each leg and its variance, (U,) each; the variance is infinite without information.

    log_likelihood : (U, Q), on the grid. A normal approximation of the posterior under the wide prior, divided by
    that prior.
    """
    weight = np.exp(log_likelihood - log_likelihood.max(axis=1, keepdims=True) + LOG_PRIOR)
    weight /= weight.sum(axis=1, keepdims=True)
    mean = weight @ GRID
    variance = weight @ np.square(GRID) - np.square(mean)
    information = 1.0 / variance - 1.0 / WIDE_SD**2
    known = information > LEAST_INFORMATION
    own_variance = np.where(known, 1.0 / np.where(known, information, 1.0), np.inf)
    return np.where(known, own_variance * mean / variance, 0.0), own_variance
