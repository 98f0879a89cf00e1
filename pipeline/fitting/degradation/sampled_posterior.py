"""Draws from a density of a few parameters by adaptive importance sampling from a mixture of t distributions."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations

import numpy as np
from scipy.special import logsumexp

from draincurve.pipeline.fitting.posterior.pareto_smoothing import SmoothedWeights, pareto_smoothed
from draincurve.pipeline.fitting.posterior.proposals import MultivariateT, inverse_cholesky
from draincurve.pipeline.fitting.posterior.tail_proposals import refitted_t
from draincurve.schemas.array_types import Floats

FEWEST_ROUNDS, MOST_ROUNDS, DRAWS_PER_ROUND = 2, 8, 200
ENOUGH_EFFECTIVE = 150.0
LARGEST_COORDINATE = 15.0
LEAST_CURVATURE = 0.1
"""Least curvature of a proposal, so that it is not wider than the tails of the posterior."""
MOST_STEPS = 30
STEP = 0.05
"""Of differences that give derivatives."""

LogDensity = Callable[[Floats], Floats]
"""Of points (S, size); (S,)."""


def resampled(points: Floats, weights: Floats, *, count: int) -> Floats:
    """Equally likely points by systematic resampling, in a fixed order of the points."""
    order = np.lexsort(points.T)
    index = np.searchsorted(np.cumsum(weights[order]), (np.arange(count) + 0.5) / count)
    return np.asarray(points[order][np.minimum(index, weights.size - 1)])


def weighted_draws(
    log_density: LogDensity, starts: Floats, *, rng: np.random.Generator
) -> tuple[Floats, SmoothedWeights]:
    """Points (S, size) and their weights (S,).

    starts : (k, size), of which the best begins the search for the mode
    """
    mode, curvature = posterior_mode(log_density, starts)
    proposals = [MultivariateT(mode, inverse_cholesky(curvature))]
    points, target = np.empty((0, mode.size)), np.empty(0)
    for round_ in range(MOST_ROUNDS):
        drawn = np.clip(proposals[-1].draw(DRAWS_PER_ROUND, rng), -LARGEST_COORDINATE, LARGEST_COORDINATE)
        points = np.vstack((points, drawn))
        target = np.append(target, log_density(drawn))
        mixture = logsumexp([proposal.log_density(points) for proposal in proposals], axis=0) - np.log(len(proposals))
        smoothed = pareto_smoothed(target - mixture)
        if round_ + 1 >= FEWEST_ROUNDS and smoothed.effective_sample_size >= ENOUGH_EFFECTIVE:
            break
        proposals.append(refitted_t(points, smoothed.weights))
    return points, smoothed


def posterior_mode(log_density: LogDensity, starts: Floats) -> tuple[Floats, Floats]:
    """The mode, by Newton's method from the best of a few starts, and the curvature there."""
    values = log_density(starts)
    point, value = starts[int(values.argmax())], float(values.max())
    for _ in range(MOST_STEPS):
        gradient, curvature = _derivatives(log_density, point)
        trials = point + np.array([1.0, 0.5, 0.2, 0.05, 0.01])[:, None] * np.linalg.solve(curvature, gradient)
        trials = np.clip(trials, -LARGEST_COORDINATE, LARGEST_COORDINATE)
        values = log_density(trials)
        if not values.max() > value + 1e-3:
            break
        point, value = trials[int(values.argmax())], float(values.max())
    return point, _derivatives(log_density, point)[1]


def _derivatives(log_density: LogDensity, point: Floats) -> tuple[Floats, Floats]:
    """Gradient and negative Hessian by differences, the latter with eigenvalues of at least LEAST_CURVATURE."""
    size = point.size
    pairs = list(combinations(range(size), 2))
    moves = STEP * np.eye(size)
    both = np.array(
        [
            first_sign * moves[i] + second_sign * moves[j]
            for i, j in pairs
            for first_sign in (1, -1)
            for second_sign in (1, -1)
        ]
    )
    values = log_density(point + np.vstack((np.zeros(size), moves, -moves, both)))
    middle, ahead, behind = values[0], values[1 : size + 1], values[size + 1 : 2 * size + 1]
    corners = values[2 * size + 1 :].reshape(len(pairs), 4)
    matrix = np.diag(-(ahead - 2 * middle + behind) / STEP**2)
    for (i, j), (pp, pm, mp, mm) in zip(pairs, corners, strict=True):
        matrix[i, j] = matrix[j, i] = -(pp - pm - mp + mm) / (4 * STEP**2)
    eigenvalues, vectors = np.linalg.eigh(matrix)
    curvature = np.asarray((vectors * np.maximum(eigenvalues, LEAST_CURVATURE)) @ vectors.T)
    return (ahead - behind) / (2 * STEP), curvature
