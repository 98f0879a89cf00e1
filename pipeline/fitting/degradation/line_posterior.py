"""Every unit's line with its whole uncertainty: of its effects, the fixed effects and the standard deviations.

Given the standard deviations between units (relative to the noise), lines have closed forms and are t distributed
with n - 2 degrees of freedom, with fixed effects and noise integrated under flat priors. Small fleets say little
about these standard deviations, so they are drawn. Each has a half-Cauchy prior, whose scale is twice the standard
deviation that would explain all scatter of the readings about the fleet's line alone: nearly flat where it is
plausible, proper for a fleet of one, and positive at zero; the correlation is uniform. A prior that shrinks by the
noise instead (uniform shrinkage) gave ranges too narrow for fleets of two to six units. References: Gelman (2006),
Bayesian Analysis 1, 515-534, for the half-Cauchy; Harville (1977), JASA 72, 320-338, for the restricted likelihood as
the marginal one (both from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.special import expit, logsumexp

from draincurve.pipeline.fitting.degradation.profile_likelihood import Profile, profile, restricted_deviances
from draincurve.pipeline.fitting.degradation.sums_of_units import UnitSums
from draincurve.pipeline.fitting.posterior.pareto_smoothing import SmoothedWeights, pareto_smoothed
from draincurve.pipeline.fitting.posterior.proposals import MultivariateT, inverse_cholesky
from draincurve.pipeline.fitting.posterior.tail_proposals import refitted_t
from draincurve.schemas.array_types import Floats

MANY_UNITS = 2_000
"""From this number of units on, standard deviations are known to a few percent, and their estimates are used."""

FEWEST_ROUNDS, MOST_ROUNDS, DRAWS_PER_ROUND = 2, 8, 200
ENOUGH_EFFECTIVE = 150.0
MOST_DRAWS, FEWEST_DRAWS, DRAWS_TIMES_UNITS = 100, 20, 20_000
LARGEST_COORDINATE = 15.0
SMALL_RATIO = 0.05
"""A relative standard deviation under this hardly changes the likelihood; the search for the mode starts over it."""
LEAST_CURVATURE = 0.1
"""Least curvature of a proposal, so that it is not wider than the tails of the posterior."""
PRIOR_WIDTH = 2.0
LEAST_NOISE = 0.1
"""Share of the scatter taken as the noise of a reading where no unit has enough readings to show any."""
MOST_STEPS = 30


@dataclass(frozen=True, slots=True)
class UnitLines:
    """Lines a + b clock under K equally likely draws, in the units of the readings and of the clock.

    level, slope : (K, units + 1), the last column is a unit without readings; level_variance, covariance,
    slope_variance : of the same shape; residual_variance : (K,), of one reading about its line; degrees_of_freedom :
    of the t distributions; effective_draws : effective sample size of the standard deviations, None where these count
    as known
    """

    level: Floats
    slope: Floats
    level_variance: Floats
    covariance: Floats
    slope_variance: Floats
    residual_variance: Floats
    degrees_of_freedom: int
    effective_draws: float | None

    @property
    def new_unit(self) -> int:
        """Column of a unit without readings."""
        return int(self.level.shape[1]) - 1


def unit_lines(sums: UnitSums, *, best: Floats, rng: np.random.Generator) -> UnitLines:
    """Lines of every unit and of a new one.

    sums : of a centred clock; best : (3,), L of the REML fit, the start of the search, and in large fleets its result
    """
    if sums.residual_freedom == 0:
        sums = sums.with_pseudo_reading(LEAST_NOISE * scatter(sums))
    if sums.units >= MANY_UNITS:
        return _lines(sums, best[None, :], effective=None)
    points, smoothed = _weighted_draws(sums, best, rng=rng)
    count = int(np.clip(DRAWS_TIMES_UNITS // (sums.units + 1), FEWEST_DRAWS, MOST_DRAWS))
    lowers = _lowers(_resampled(points, smoothed.weights, count=count))
    return _lines(sums, lowers, effective=smoothed.effective_sample_size)


def _resampled(points: Floats, weights: Floats, *, count: int) -> Floats:
    """Equally likely points by systematic resampling, in a fixed order of the points."""
    order = np.lexsort(points.T)
    at = np.searchsorted(np.cumsum(weights[order]), (np.arange(count) + 0.5) / count)
    return np.asarray(points[order][np.minimum(at, weights.size - 1)])


def _weighted_draws(sums: UnitSums, best: Floats, *, rng: np.random.Generator) -> tuple[Floats, SmoothedWeights]:
    """Draws of the standard deviations and correlation as working points (S, 3), and their weights (S,)."""
    log_density = partial(log_posterior, sums, width=PRIOR_WIDTH * scatter(sums))
    mode, curvature = _mode(log_density, _working(best))
    proposals = [MultivariateT(mode, inverse_cholesky(curvature))]
    points, target = np.empty((0, 3)), np.empty(0)
    for round_ in range(MOST_ROUNDS):
        drawn = np.clip(proposals[-1].draw(DRAWS_PER_ROUND, rng), -LARGEST_COORDINATE, LARGEST_COORDINATE)
        points = np.vstack((points, drawn))
        target = np.append(target, log_density(drawn))
        mixture = logsumexp([one.log_density(points) for one in proposals], axis=0) - np.log(len(proposals))
        smoothed = pareto_smoothed(target - mixture)
        if round_ + 1 >= FEWEST_ROUNDS and smoothed.effective_sample_size >= ENOUGH_EFFECTIVE:
            break
        proposals.append(refitted_t(points, smoothed.weights))
    return points, smoothed


def log_posterior(sums: UnitSums, points: Floats, *, width: float) -> Floats:
    """Log density at working points (S, 3), (S,).

    points : logs of the two relative standard deviations, and the logit of (1 + correlation) / 2; width : scale of
    the half-Cauchy priors, on the scale of the sums, where the clock has a standard deviation of one
    """
    deviance, residual_variance = restricted_deviances(sums, _lowers(points))
    sds = np.exp(points[:, :2]) * np.sqrt(residual_variance)[:, None]
    # The density of the logs has each sd as a factor; the logit of a uniform variable is logistic.
    prior_of_sds = np.sum(np.log(sds) - np.log1p(np.square(sds / width)), axis=1)
    prior_of_correlation = -points[:, 2] - 2.0 * np.logaddexp(0.0, -points[:, 2])
    return np.asarray(prior_of_sds + prior_of_correlation - 0.5 * deviance)


def scatter(sums: UnitSums) -> float:
    """Root mean square deviation of the readings from the fleet's line, on the scale of the sums."""
    n, x, xx, y, xy, yy = (float(part.sum()) for part in (sums.readings, sums.x, sums.xx, sums.y, sums.xy, sums.yy))
    centred = xx - x * x / n
    slope = (xy - x * y / n) / centred if centred > 0 else 0.0
    return float(np.sqrt(max((yy - y * y / n - slope * slope * centred) / n, 1e-12)))


def _mode(log_density: Callable[[Floats], Floats], start: Floats) -> tuple[Floats, Floats]:
    """The mode, by Newton's method from the best of a few starts, and the curvature there."""
    starts = np.vstack((start, np.zeros(3), [[a, b, 0.0] for a in (-3.0, 3.0) for b in (-3.0, 3.0)]))
    values = log_density(starts)
    at, value = starts[int(values.argmax())], float(values.max())
    for _ in range(MOST_STEPS):
        gradient, curvature = _derivatives(log_density, at)
        trials = at + np.array([1.0, 0.5, 0.2, 0.05, 0.01])[:, None] * np.linalg.solve(curvature, gradient)
        trials = np.clip(trials, -LARGEST_COORDINATE, LARGEST_COORDINATE)
        values = log_density(trials)
        if not values.max() > value + 1e-3:
            break
        at, value = trials[int(values.argmax())], float(values.max())
    return at, _derivatives(log_density, at)[1]


def _derivatives(log_density: Callable[[Floats], Floats], at: Floats, *, step: float = 0.05) -> tuple[Floats, Floats]:
    """Gradient and negative Hessian by differences, the latter with eigenvalues of at least LEAST_CURVATURE."""
    pairs = [(0, 1), (0, 2), (1, 2)]
    moves = step * np.eye(3)
    both = np.array([one * moves[i] + other * moves[j] for i, j in pairs for one in (1, -1) for other in (1, -1)])
    values = log_density(at + np.vstack((np.zeros(3), moves, -moves, both)))
    middle, ahead, behind, corners = values[0], values[1:4], values[4:7], values[7:].reshape(3, 4)
    matrix = np.diag(-(ahead - 2 * middle + behind) / step**2)
    for (i, j), (pp, pm, mp, mm) in zip(pairs, corners, strict=True):
        matrix[i, j] = matrix[j, i] = -(pp - pm - mp + mm) / (4 * step**2)
    eigenvalues, vectors = np.linalg.eigh(matrix)
    curvature = np.asarray((vectors * np.maximum(eigenvalues, LEAST_CURVATURE)) @ vectors.T)
    return (ahead - behind) / (2 * step), curvature


def _lowers(points: Floats) -> Floats:
    """L00, L10, L11 at working points, (S, 3) both."""
    ratio = np.exp(points[:, :2])
    correlation = 2.0 * expit(points[:, 2]) - 1.0
    uncorrelated = np.sqrt(np.maximum(1.0 - np.square(correlation), 0.0))
    return np.column_stack((ratio[:, 0], ratio[:, 1] * correlation, ratio[:, 1] * uncorrelated))


def _working(lower: Floats) -> Floats:
    """The working point of an L, moved inside where a standard deviation or the correlation is on the boundary."""
    slope = float(np.hypot(lower[1], lower[2]))
    correlation = lower[1] / slope if slope > 0 else 0.0
    ratio = np.maximum(np.array([lower[0], slope]), SMALL_RATIO)
    return np.append(np.log(ratio), 2.0 * np.arctanh(np.clip(correlation, -0.95, 0.95)))


def _lines(sums: UnitSums, lowers: Floats, *, effective: float | None) -> UnitLines:
    """Lines for each L by closed forms, in the readings' own units."""
    shape = (lowers.shape[0], sums.units + 1)
    parts = [np.empty(shape) for _ in range(5)]
    residual_variance = np.empty(shape[0])
    for draw, lower in enumerate(lowers):
        found = profile(sums, lower, restricted=True)
        residual_variance[draw] = found.residual_variance * sums.response_scale**2
        mean, covariance = _scaled_lines(sums, lower, found=found)
        for part, values in zip(parts, _rescaled(sums, mean, covariance=covariance), strict=True):
            part[draw] = values
    level, slope, level_variance, covariance, slope_variance = parts
    return UnitLines(
        level=level,
        slope=slope,
        level_variance=level_variance,
        covariance=covariance,
        slope_variance=slope_variance,
        residual_variance=residual_variance,
        degrees_of_freedom=sums.rows - 2,
        effective_draws=effective,
    )


def _scaled_lines(sums: UnitSums, lower: Floats, *, found: Profile) -> tuple[Floats, Floats]:
    """Mean (2, units + 1) and covariance (2, 2, units + 1) of lines on the scale of the sums.

    With A = X'X and c = X'y of a unit, line = (I + W A)^-1 beta + W (I + A W)^-1 c, and its covariance over s2 given
    beta is W (I + A W)^-1. The adjugates keep this exact however large W is; the last unit has A = 0 and c = 0.
    """
    first, mixed, second = lower
    w00, w01, w11 = first * first, first * mixed, mixed * mixed + second * second
    det_w = (first * second) ** 2
    fields = (sums.readings, sums.x, sums.xx, sums.y, sums.xy, sums.centred_xx, sums.centred_xy)
    n, x, xx, y, xy, centred_xx, centred_xy = (np.append(part, 0.0) for part in fields)
    determinant = 1.0 + w00 * n + 2.0 * w01 * x + w11 * xx + det_w * n * centred_xx
    given_beta = np.array([[w00 + det_w * xx, w01 - det_w * x], [w01 - det_w * x, w11 + det_w * n]]) / determinant
    weight_of_beta = (
        np.array([[1.0 + w01 * x + w11 * xx, -(w00 * x + w01 * xx)], [-(w01 * n + w11 * x), 1.0 + w00 * n + w01 * x]])
        / determinant
    )
    adjugate0, adjugate1 = centred_xx * y - x * centred_xy, n * centred_xy
    from_readings = (
        np.array([w00 * y + w01 * xy + det_w * adjugate0, w01 * y + w11 * xy + det_w * adjugate1]) / determinant
    )
    mean = np.einsum("iju,j->iu", weight_of_beta, found.coefficients) + from_readings
    from_beta = np.einsum("iju,jk,lku->ilu", weight_of_beta, found.unscaled, weight_of_beta)
    return mean, found.residual_variance * (given_beta + from_beta)


def _rescaled(sums: UnitSums, mean: Floats, *, covariance: Floats) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Level at clock 0, slope, and their variances and covariance, in the readings' own units."""
    back = sums.line_scale
    line = back @ mean
    own = np.einsum("ij,jku,lk->ilu", back, covariance, back)
    return line[0] + sums.response_shift, line[1], own[0, 0], own[0, 1], own[1, 1]
