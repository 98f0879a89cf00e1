"""Probability of each rating at given hours from a fitted rating model, with a range from draws of its parameters.

With a prior the draws are the posterior's (importance resampling around the mode). Under maximum likelihood they are
normal around the estimate, with the inverse observed information as covariance (Krinsky & Robb 1986, Rev. Econ.
Stat. 68, 715-719).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from draincurve.pipeline.fitting.posterior.posterior_draws import sample_posterior
from draincurve.pipeline.fitting.posterior.proposals import inverse_cholesky
from draincurve.pipeline.fitting.rating_model import PointFit
from draincurve.pipeline.fitting.unit_effects.grid_draws import draw_unit_effects
from draincurve.schemas.array_types import Floats, Integers

TYPICAL_UNIT = -1
"""In place of a unit's index: a unit whose own effect is zero."""


class ProbabilityRange(NamedTuple):
    """Probabilities (n, K) with the ends of their ranges."""

    estimate: Floats
    low: Floats
    high: Floats


class RatingProbabilities(NamedTuple):
    """P(rating = k) and P(rating >= k), columns k = 1 to K."""

    exactly: ProbabilityRange
    at_least: ProbabilityRange


def rating_probabilities(
    fit: PointFit, columns: Floats, *, units: Integers, level: float, draws: int, rng: np.random.Generator
) -> RatingProbabilities:
    """Probabilities for n predictions.

    columns : (n, p), the log hours first where the model has them; units : (n,), index among the fit's units or
    TYPICAL_UNIT; level : probability inside the range; draws : number of draws behind it.
    The estimate is the posterior mean with a prior, else the value at the maximum-likelihood estimate.
    """
    working = _working_draws(fit, draws, rng=rng)
    thresholds, coefficients, _ = fit.natural_draws(working)
    added = coefficients @ columns.T + _effect_draws(fit, working, units=units, rng=rng)
    drawn = _survival(fit, thresholds, added=added)
    if fit.objective.prior is None:
        slope = [] if fit.hours_slope is None else [fit.hours_slope]
        at_estimate = columns @ np.concatenate((slope, fit.coefficients))
        at_estimate += np.append(fit.unit_effects, 0.0)[units]
        estimate = _survival(fit, fit.thresholds[None, :], added=at_estimate[None, :])
    else:
        estimate = drawn
    return RatingProbabilities(
        exactly=_range(drawn[:, :, :-1] - drawn[:, :, 1:], estimate[:, :, :-1] - estimate[:, :, 1:], level=level),
        at_least=_range(drawn[:, :, :-1], estimate[:, :, :-1], level=level),
    )


def _working_draws(fit: PointFit, count: int, *, rng: np.random.Generator) -> Floats:
    """Draws of the working parameters, (S, size)."""
    if fit.objective.prior is not None:
        return sample_posterior(fit, count, rng=rng).draws
    mode = fit.maximum.point.working
    return np.asarray(mode + rng.standard_normal((count, mode.size)) @ inverse_cholesky(-fit.maximum.hessian).T)


def _effect_draws(fit: PointFit, working: Floats, *, units: Integers, rng: np.random.Generator) -> Floats:
    """Unit effect of each prediction under each draw, (S, n)."""
    if np.all(units == TYPICAL_UNIT):
        return np.zeros((working.shape[0], units.size))
    natural = fit.objective.layout.natural(working)
    effects = natural[:, -1:] * draw_unit_effects(fit.objective.likelihood, natural, rng=rng)
    return np.asarray(np.hstack((effects, np.zeros((working.shape[0], 1))))[:, units])


def _survival(fit: PointFit, thresholds: Floats, *, added: Floats) -> Floats:
    """P(rating >= k) for k = 1 to K + 1, (S, n, K + 1), of thresholds (S, K - 1) and linear predictors (S, n)."""
    survival = fit.objective.likelihood.link.survival(thresholds[:, None, :] - added[:, :, None])
    ones = np.ones((*added.shape, 1))
    return np.concatenate((ones, survival, np.zeros_like(ones)), axis=2)


def _range(drawn: Floats, estimate: Floats, *, level: float) -> ProbabilityRange:
    """Estimate, the mean where it is of several draws, and the central range of the draws."""
    low, high = np.quantile(drawn, [0.5 - level / 2, 0.5 + level / 2], axis=0)
    return ProbabilityRange(estimate.mean(axis=0), low, high)
