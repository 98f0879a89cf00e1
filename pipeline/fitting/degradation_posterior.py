"""Each unit's own line with its whole uncertainty: unit effects, fixed effects and the spreads themselves.

Given the spreads between units (relative to the noise), lines have closed forms and are t distributed with n - 2
degrees of freedom, fixed effects and noise being integrated under flat priors. Small fleets say little about the
spreads, so these are drawn: each relative variance has the uniform shrinkage prior, by which the share that a typical
unit's own readings get in its line is uniform between none and all, and the correlation is uniform. That is proper,
has no scale to choose, and leaves a spread of nought and a large one possible. References: Daniels (1999), Can. J.
Stat. 27, 567-578, for the prior; Harville (1977), JASA 72, 320-338, for the restricted likelihood as the marginal
one (both from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import expit, logsumexp

from pipeline.fitting.adapted_proposals import refitted
from pipeline.fitting.degradation_likelihood import Profile, profile, restricted_deviances, unit_terms
from pipeline.fitting.degradation_sums import Floats, UnitSums
from pipeline.fitting.pareto import smooth
from pipeline.fitting.proposals import EllipticProposal, inverse_factor

KNOWN_FROM_UNITS = 2_000
"""With as many units the spreads are known to a few percent, and their best values serve."""

FEWEST_ROUNDS, MOST_ROUNDS, A_ROUND = 2, 8, 200
ENOUGH_EFFECTIVE = 150.0
MOST_DRAWS, FEWEST_DRAWS, DRAWS_TIMES_UNITS = 100, 20, 20_000
FARTHEST, INSIDE = 25.0, 4.0
FLATTEST = 0.1
"""Curvature of proposals at the least: about that of a uniform share's logit."""
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
    if sums.units >= KNOWN_FROM_UNITS:
        return _lines(sums, best[None, :], None)
    draws, effective = _spread_draws(sums, rng, best)
    count = int(np.clip(DRAWS_TIMES_UNITS // (sums.units + 1), FEWEST_DRAWS, MOST_DRAWS))
    return _lines(sums, draws(count), effective)


@dataclass(frozen=True, slots=True)
class _Weighted:
    points: Floats
    weights: Floats
    scales: Floats

    def __call__(self, count: int) -> Floats:
        """As many L as asked for, equally likely, by systematic resampling from the sorted weights."""
        at = np.searchsorted(np.cumsum(self.weights), (np.arange(count) + 0.5) / count)
        return _lowers(self.points[np.minimum(at, self.weights.size - 1)], self.scales)


def _spread_draws(sums: UnitSums, rng: np.random.Generator, best: Floats) -> tuple[_Weighted, float]:
    """Weighted draws of the spreads on the working scale, and their effective number."""
    scales = typical_information(sums)

    def log_density(points: Floats) -> Floats:
        # the logistic density is that of a uniform share on this scale
        prior = np.sum(-points - 2.0 * np.logaddexp(0.0, -points), axis=1)
        return np.asarray(prior - 0.5 * restricted_deviances(sums, _lowers(points, scales)))

    mode, curvature = _highest(log_density, _working(best, scales))
    proposals = [EllipticProposal(mode, inverse_factor(curvature))]
    points, target = np.empty((0, 3)), np.empty(0)
    for round_ in range(MOST_ROUNDS):
        drawn = np.clip(proposals[-1].draw(A_ROUND, rng), -2 * FARTHEST, 2 * FARTHEST)
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
    return _Weighted(points[order], smoothed.weights[order], scales), smoothed.effective_sample_size


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


def typical_information(sums: UnitSums) -> Floats:
    """What a typical unit's readings say of its level and of its slope, (2,), over the noise.

    Where no unit has readings at two clock values nothing says how slopes differ, and the slope's is that of one
    reading.
    """
    inside = sums.xx - np.square(sums.x) / sums.readings
    told = inside > 1e-9 * max(float(sums.xx.max()), 1.0)
    return np.array([sums.readings.mean(), inside[told].mean() if told.any() else 1.0])


def _lowers(points: Floats, scales: Floats) -> Floats:
    """L00, L10, L11 at working points (S, 3): logits of two shares of shrinkage and of the correlation; (S, 3)."""
    ratio = np.exp(-0.5 * points[:, :2]) / np.sqrt(scales)
    correlation = 2.0 * expit(points[:, 2]) - 1.0
    along = np.sqrt(np.maximum(1.0 - np.square(correlation), 0.0))
    return np.column_stack((ratio[:, 0], ratio[:, 1] * correlation, ratio[:, 1] * along))


def _working(lower: Floats, scales: Floats) -> Floats:
    """The working point of an L, held inside where a spread or a correlation lies at its edge."""
    slope = float(np.hypot(lower[1], lower[2]))
    correlation = lower[1] / slope if slope > 0 else 0.0
    ratio = np.maximum(np.array([lower[0], slope]) * np.sqrt(scales), 1e-6)
    point = np.append(-2.0 * np.log(ratio), 2.0 * np.arctanh(np.clip(correlation, -0.95, 0.95)))
    return np.asarray(np.clip(point, -FARTHEST, [INSIDE, INSIDE, FARTHEST]))


def _lines(sums: UnitSums, lowers: Floats, effective: float | None) -> UnitLines:
    """Closed forms for each L; line = (I - W B) beta + W b, with B and b the unit's X'V^-1 X and X'V^-1 y."""
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
    """Mean (2, units + 1) and covariance (2, 2, units + 1) of lines on the scale of the sums."""
    beta, unscaled, variance = found.coefficients, found.unscaled, found.residual_variance
    triangle = np.array([[lower[0], 0.0], [lower[1], lower[2]]])
    spread = triangle @ triangle.T
    precision, cross, _, _ = unit_terms(sums, lower)
    own = [np.append(part, 0.0) for part in (*precision, *cross)]
    matrix = np.array([[own[0], own[1]], [own[1], own[2]]])
    kept = np.eye(2)[:, :, None] - np.einsum("ij,jku->iku", spread, matrix)
    mean = np.einsum("iju,j->iu", kept, beta) + np.einsum("ij,ju->iu", spread, np.array(own[3:]))
    inner = np.einsum("iju,jk->iku", kept, spread)
    outer = np.einsum("iju,jk,lku->ilu", kept, unscaled, kept)
    return mean, variance * (inner + outer)


def _own_scale(sums: UnitSums, mean: Floats, covariance: Floats) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Level at clock 0, slope, and their variances and covariance, in the readings' own units."""
    back = sums.size * np.array([[1.0, -sums.shift / sums.step], [0.0, 1.0 / sums.step]])
    moved = back @ mean
    spread = np.einsum("ij,jku,lk->ilu", back, covariance, back)
    return moved[0], moved[1], spread[0, 0], spread[0, 1], spread[1, 1]
