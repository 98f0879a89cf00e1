"""Every unit's line with its full uncertainty: in its effects, the fixed effects and the standard deviations.

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

from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.special import expit

from draincurve.pipeline.fitting.degradation.profile_likelihood import Profile, profile, restricted_deviances
from draincurve.pipeline.fitting.degradation.sampled_posterior import resampled, weighted_draws
from draincurve.pipeline.fitting.degradation.sums_of_units import UnitSums
from draincurve.schemas.array_types import Floats, Integers

MANY_UNITS = 2_000
"""From this number of units on, standard deviations are known to a few percent, and their estimates are used."""

MOST_DRAWS, FEWEST_DRAWS, DRAWS_TIMES_UNITS = 100, 20, 20_000
SMALL_RATIO = 0.05
"""A relative standard deviation under this hardly changes the likelihood; the search for the mode starts over it."""
PRIOR_WIDTH = 2.0
LEAST_NOISE = 0.1
"""Share of the scatter taken as the noise of a reading where no unit has enough readings to show any."""
STARTS = np.array([[0.0, 0.0, 0.0], *([a, b, 0.0] for a in (-3.0, 3.0) for b in (-3.0, 3.0))])
"""Working points at which the search for the mode begins besides the estimate."""


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

    def at(self, columns: Integers, hours: Floats, *, of_reading: bool) -> tuple[Floats, Floats]:
        """Middle and scale of the t distributions of the lines, or of readings, at hours (n, m); (K, n, m) each."""
        level, slope, by_level, mixed, by_slope = (
            part[:, columns][:, :, None]
            for part in (self.level, self.slope, self.level_variance, self.covariance, self.slope_variance)
        )
        noise = self.residual_variance[:, None, None] if of_reading else 0.0
        variance = by_level + hours * (2.0 * mixed + hours * by_slope) + noise
        return level + slope * hours, np.sqrt(np.maximum(variance, 1e-300))


def unit_lines(sums: UnitSums, *, best: Floats, rng: np.random.Generator) -> UnitLines:
    """Lines of every unit and of a new one.

    sums : of a centred clock; best : (3,), L of the REML fit, the start of the search, and in large fleets its result
    """
    if sums.residual_freedom == 0:
        sums = sums.with_pseudo_reading(LEAST_NOISE * scatter(sums))
    if sums.units >= MANY_UNITS:
        return _lines(sums, best[None, :], effective=None)
    log_density = partial(log_posterior, sums, width=PRIOR_WIDTH * scatter(sums))
    points, smoothed = weighted_draws(log_density, np.vstack((working(best), STARTS)), rng=rng)
    lowers = lowers_at(resampled(points, smoothed.weights, count=draws_kept(sums.units)))
    return _lines(sums, lowers, effective=smoothed.effective_sample_size)


def draws_kept(units: int) -> int:
    """Number of draws in the mixture of a fleet's lines."""
    return int(np.clip(DRAWS_TIMES_UNITS // (units + 1), FEWEST_DRAWS, MOST_DRAWS))


def log_posterior(sums: UnitSums, points: Floats, *, width: float) -> Floats:
    """Log density at working points (S, 3), (S,).

    points : logs of the two relative standard deviations, and the logit of (1 + correlation) / 2; width : scale of
    the half-Cauchy priors, on the scale of the sums, where the clock has a standard deviation of one
    """
    deviance, residual_variance = restricted_deviances(sums, lowers_at(points))
    return log_prior(points, np.sqrt(residual_variance), width=width) - 0.5 * deviance


def log_prior(points: Floats, noise_sd: Floats, *, width: float) -> Floats:
    """Log prior density of working points (S, 3) given the sd of a reading's noise (S,); (S,)."""
    sds = np.exp(points[:, :2]) * noise_sd[:, None]
    # The density of the logs has each sd as a factor; the logit of a uniform variable is logistic.
    prior_of_sds = np.sum(np.log(sds) - np.log1p(np.square(sds / width)), axis=1)
    prior_of_correlation = -points[:, 2] - 2.0 * np.logaddexp(0.0, -points[:, 2])
    return np.asarray(prior_of_sds + prior_of_correlation)


def scatter(sums: UnitSums) -> float:
    """Root mean square deviation of the readings from the fleet's line, on the scale of the sums."""
    n, x, xx, y, xy, yy = (float(part.sum()) for part in (sums.readings, sums.x, sums.xx, sums.y, sums.xy, sums.yy))
    centred = xx - x * x / n
    slope = (xy - x * y / n) / centred if centred > 0 else 0.0
    return float(np.sqrt(max((yy - y * y / n - slope * slope * centred) / n, 1e-12)))


def lowers_at(points: Floats) -> Floats:
    """L00, L10, L11 at working points, (S, 3) both."""
    ratio = np.exp(points[:, :2])
    correlation = 2.0 * expit(points[:, 2]) - 1.0
    uncorrelated = np.sqrt(np.maximum(1.0 - np.square(correlation), 0.0))
    return np.column_stack((ratio[:, 0], ratio[:, 1] * correlation, ratio[:, 1] * uncorrelated))


def working(lower: Floats) -> Floats:
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
        profiled = profile(sums, lower, restricted=True)
        residual_variance[draw] = profiled.residual_variance * sums.response_scale**2
        mean, covariance = _scaled_lines(sums, lower, profiled=profiled)
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


def _scaled_lines(sums: UnitSums, lower: Floats, *, profiled: Profile) -> tuple[Floats, Floats]:
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
    mean = np.einsum("iju,j->iu", weight_of_beta, profiled.coefficients) + from_readings
    from_beta = np.einsum("iju,jk,lku->ilu", weight_of_beta, profiled.unscaled, weight_of_beta)
    return mean, profiled.residual_variance * (given_beta + from_beta)


def _rescaled(sums: UnitSums, mean: Floats, *, covariance: Floats) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Level at clock 0, slope, and their variances and covariance, in the readings' own units."""
    back = sums.line_scale
    line = back @ mean
    line_covariance = np.einsum("ij,jku,lk->ilu", back, covariance, back)
    return line[0] + sums.response_shift, line[1], line_covariance[0, 0], line_covariance[0, 1], line_covariance[1, 1]
