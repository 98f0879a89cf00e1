"""Each unit's own line with its whole uncertainty: unit effects, fixed effects and the spreads themselves.

Given the spreads between units (relative to the noise), lines have closed forms and are t distributed with n - 2
degrees of freedom, fixed effects and noise being integrated under flat priors. Small fleets say little about the
spreads, so these are drawn. Each has a half-Cauchy prior whose scale is twice what it would be if all the scatter of
readings about the fleet's line came from it alone: nearly flat where it can lie, proper for a fleet of one, and open
to a spread of nought; the correlation is uniform. A prior that shrinks by the noise instead (uniform shrinkage) gave
ranges too narrow for fleets of two to six units. References: Gelman (2006), Bayesian Analysis 1, 515-534, for the
half-Cauchy; Harville (1977), JASA 72, 320-338, for the restricted likelihood as the marginal one (both from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.special import expit, logsumexp

from draincurve.pipeline.fitting.degradation.profile_likelihood import Profile, profile, restricted_deviances
from draincurve.pipeline.fitting.degradation.unit_sums import UnitSums
from draincurve.pipeline.fitting.posterior.pareto_smoothing import smooth
from draincurve.pipeline.fitting.posterior.proposals import EllipticProposal, inverse_factor
from draincurve.pipeline.fitting.posterior.tail_proposals import refitted
from draincurve.schemas.array_types import Floats

KNOWN_FROM_UNITS = 2_000
"""With as many units the spreads are known to a few percent, and their best values serve."""

FEWEST_ROUNDS, MOST_ROUNDS, A_ROUND = 2, 8, 200
ENOUGH_EFFECTIVE = 150.0
MOST_DRAWS, FEWEST_DRAWS, DRAWS_TIMES_UNITS = 100, 20, 20_000
FARTHEST = 15.0
SMALL_RATIO = 0.05
"""A relative spread under this hardly changes the likelihood; the search for the mode does not start there."""
FLATTEST = 0.1
"""Curvature of proposals at the least, so that they reach no further than the tails do."""
PRIOR_WIDTH = 2.0
LEAST_NOISE = 0.1
"""Share of the scatter that stands in for the noise of a reading where no unit has readings enough to show any."""
MOST_STEPS = 30


@dataclass(frozen=True, slots=True)
class UnitLines:
    """Lines a + b clock of K equally likely sets of spreads, in the units of the readings and of the clock.

    level, slope : (K, units + 1), the last column being a unit without readings
    level_variance, covariance, slope_variance : the same shape;  noise : (K,), variance of one reading about its line
    freedom : degrees of freedom;  effective_draws : effective sample size of the spreads, None where those count
    as known
    """

    level: Floats
    slope: Floats
    level_variance: Floats
    covariance: Floats
    slope_variance: Floats
    noise: Floats
    freedom: int
    effective_draws: float | None

    @property
    def new_unit(self) -> int:
        """Column of a unit without readings."""
        return int(self.level.shape[1]) - 1


def unit_lines(sums: UnitSums, rng: np.random.Generator, best: Floats) -> UnitLines:
    """Lines of every unit and of a new one.

    sums : of a centred clock;  best : (3,), L of the REML fit, where the search starts; it stands alone in
    large fleets
    """
    if sums.about_own_lines == 0:
        sums = sums.with_noise(LEAST_NOISE * scatter(sums))
    if sums.units >= KNOWN_FROM_UNITS:
        return _lines(sums, best[None, :], None)
    draws, effective = _spread_draws(sums, rng, best)
    count = int(np.clip(DRAWS_TIMES_UNITS // (sums.units + 1), FEWEST_DRAWS, MOST_DRAWS))
    return _lines(sums, draws(count), effective)


@dataclass(frozen=True, slots=True)
class _Weighted:
    points: Floats
    weights: Floats

    def __call__(self, count: int) -> Floats:
        """As many L as asked for, equally likely, by systematic resampling from the sorted weights."""
        at = np.searchsorted(np.cumsum(self.weights), (np.arange(count) + 0.5) / count)
        return _lowers(self.points[np.minimum(at, self.weights.size - 1)])


def _spread_draws(sums: UnitSums, rng: np.random.Generator, best: Floats) -> tuple[_Weighted, float]:
    """Weighted draws of the spreads on the working scale, and their effective number."""
    log_density = partial(log_posterior, sums, PRIOR_WIDTH * scatter(sums))
    mode, curvature = _highest(log_density, _working(best))
    proposals = [EllipticProposal(mode, inverse_factor(curvature))]
    points, target = np.empty((0, 3)), np.empty(0)
    for round_ in range(MOST_ROUNDS):
        drawn = np.clip(proposals[-1].draw(A_ROUND, rng), -FARTHEST, FARTHEST)
        points = np.vstack((points, drawn))
        target = np.append(target, log_density(drawn))
        mixture = logsumexp([one.log_density(points) for one in proposals], axis=0) - np.log(len(proposals))
        smoothed = smooth(target - mixture)
        if round_ + 1 >= FEWEST_ROUNDS and smoothed.effective_sample_size >= ENOUGH_EFFECTIVE:
            break
        fresh, _ = refitted(points, smoothed, None)[0]
        assert isinstance(fresh, EllipticProposal)
        proposals.append(fresh)
    order = np.lexsort(points.T)
    return _Weighted(points[order], smoothed.weights[order]), smoothed.effective_sample_size


def log_posterior(sums: UnitSums, width: float, points: Floats) -> Floats:
    """Log density at working points (S, 3): logs of two relative spreads and the logit of the correlation; (S,).

    width : scale of the half-Cauchy priors, on the scale of the sums, where the clock has a spread of one
    """
    deviance, noise = restricted_deviances(sums, _lowers(points))
    spreads = np.exp(points[:, :2]) * np.sqrt(noise)[:, None]
    # over logs a density of spreads is multiplied by each spread; a uniform correlation has a logistic logit
    of_spreads = np.sum(np.log(spreads) - np.log1p(np.square(spreads / width)), axis=1)
    of_correlation = -points[:, 2] - 2.0 * np.logaddexp(0.0, -points[:, 2])
    return np.asarray(of_spreads + of_correlation - 0.5 * deviance)


def scatter(sums: UnitSums) -> float:
    """Root mean square of the readings about the fleet's line, on the scale of the sums."""
    n, x, xx, y, xy, yy = (float(part.sum()) for part in (sums.readings, sums.x, sums.xx, sums.y, sums.xy, sums.yy))
    inside = xx - x * x / n
    slope = (xy - x * y / n) / inside if inside > 0 else 0.0
    return float(np.sqrt(max((yy - y * y / n - slope * slope * inside) / n, 1e-12)))


def _highest(log_density: Callable[[Floats], Floats], start: Floats) -> tuple[Floats, Floats]:
    """The mode near the best of a few starts, by Newton's steps, and the curvature there."""
    starts = np.vstack((start, np.zeros(3), [[a, b, 0.0] for a in (-3.0, 3.0) for b in (-3.0, 3.0)]))
    values = log_density(starts)
    at, height = starts[int(values.argmax())], float(values.max())
    for _ in range(MOST_STEPS):
        slope, curvature = _shape(log_density, at)
        tried = at + np.array([1.0, 0.5, 0.2, 0.05, 0.01])[:, None] * np.linalg.solve(curvature, slope)
        tried = np.clip(tried, -FARTHEST, FARTHEST)
        values = log_density(tried)
        if not values.max() > height + 1e-3:
            break
        at, height = tried[int(values.argmax())], float(values.max())
    return at, _shape(log_density, at)[1]


def _shape(log_density: Callable[[Floats], Floats], at: Floats, step: float = 0.05) -> tuple[Floats, Floats]:
    """Slope and negative second derivatives by differences; these made positive definite, as flat as tails allow."""
    pairs = [(0, 1), (0, 2), (1, 2)]
    moved = step * np.eye(3)
    both = np.array([one * moved[i] + other * moved[j] for i, j in pairs for one in (1, -1) for other in (1, -1)])
    values = log_density(at + np.vstack((np.zeros(3), moved, -moved, both)))
    middle, ahead, back, corners = values[0], values[1:4], values[4:7], values[7:].reshape(3, 4)
    matrix = np.diag(-(ahead - 2 * middle + back) / step**2)
    for (i, j), (pp, pm, mp, mm) in zip(pairs, corners, strict=True):
        matrix[i, j] = matrix[j, i] = -(pp - pm - mp + mm) / (4 * step**2)
    own, vectors = np.linalg.eigh(matrix)
    return (ahead - back) / (2 * step), np.asarray((vectors * np.maximum(own, FLATTEST)) @ vectors.T)


def _lowers(points: Floats) -> Floats:
    """L00, L10, L11 at working points, (S, 3) both."""
    ratio = np.exp(points[:, :2])
    correlation = 2.0 * expit(points[:, 2]) - 1.0
    along = np.sqrt(np.maximum(1.0 - np.square(correlation), 0.0))
    return np.column_stack((ratio[:, 0], ratio[:, 1] * correlation, ratio[:, 1] * along))


def _working(lower: Floats) -> Floats:
    """The working point of an L, held inside where a spread or a correlation lies at its edge."""
    slope = float(np.hypot(lower[1], lower[2]))
    correlation = lower[1] / slope if slope > 0 else 0.0
    ratio = np.maximum(np.array([lower[0], slope]), SMALL_RATIO)
    return np.append(np.log(ratio), 2.0 * np.arctanh(np.clip(correlation, -0.95, 0.95)))


def _lines(sums: UnitSums, lowers: Floats, effective: float | None) -> UnitLines:
    """Closed forms for each L, in the readings' own units."""
    shape = (lowers.shape[0], sums.units + 1)
    parts = [np.empty(shape) for _ in range(5)]
    noise = np.empty(shape[0])
    for place, lower in enumerate(lowers):
        found = profile(sums, lower, restricted=True)
        noise[place] = found.residual_variance * sums.size**2
        for part, values in zip(parts, _own_scale(sums, *_scaled_lines(sums, lower, found)), strict=True):
            part[place] = values
    level, slope, level_variance, covariance, slope_variance = parts
    return UnitLines(level, slope, level_variance, covariance, slope_variance, noise, sums.rows - 2, effective)


def _scaled_lines(sums: UnitSums, lower: Floats, found: Profile) -> tuple[Floats, Floats]:
    """Mean (2, units + 1) and covariance (2, 2, units + 1) of lines on the scale of the sums.

    With A = X'X and c = X'y of a unit, line = (I + W A)^-1 beta + W (I + A W)^-1 c, its covariance over s2 given beta
    being W (I + A W)^-1. The adjugates keep that exact however large W is; the last unit has A = 0 and c = 0.
    """
    first, mixed, second = lower
    w00, w01, w11 = first * first, first * mixed, mixed * mixed + second * second
    spread = (first * second) ** 2
    names = (sums.readings, sums.x, sums.xx, sums.y, sums.xy, sums.inside_xx, sums.inside_xy)
    n, x, xx, y, xy, inside_xx, inside_xy = (np.append(part, 0.0) for part in names)
    determinant = 1.0 + w00 * n + 2.0 * w01 * x + w11 * xx + spread * n * inside_xx
    own = np.array([[w00 + spread * xx, w01 - spread * x], [w01 - spread * x, w11 + spread * n]]) / determinant
    kept = (
        np.array([[1.0 + w01 * x + w11 * xx, -(w00 * x + w01 * xx)], [-(w01 * n + w11 * x), 1.0 + w00 * n + w01 * x]])
        / determinant
    )
    twist0, twist1 = inside_xx * y - x * inside_xy, n * inside_xy
    pulled = np.array([w00 * y + w01 * xy + spread * twist0, w01 * y + w11 * xy + spread * twist1]) / determinant
    mean = np.einsum("iju,j->iu", kept, found.coefficients) + pulled
    outer = np.einsum("iju,jk,lku->ilu", kept, found.unscaled, kept)
    return mean, found.residual_variance * (own + outer)


def _own_scale(sums: UnitSums, mean: Floats, covariance: Floats) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Level at clock 0, slope, and their variances and covariance, in the readings' own units."""
    back = sums.size * np.array([[1.0, -sums.shift / sums.step], [0.0, 1.0 / sums.step]])
    moved = back @ mean
    spread = np.einsum("ij,jku,lk->ilu", back, covariance, back)
    return moved[0] + sums.level, moved[1], spread[0, 0], spread[0, 1], spread[1, 1]
