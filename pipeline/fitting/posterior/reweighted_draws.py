"""Draws from the posterior of a log that differs in a few rows from one whose draws are known.

The known draws are weighted by the ratio of the two densities (importance sampling; Geweke 1989, Econometrica 57,
1317-1339) and resampled. A draw that keeps its weight keeps its place: what is drawn beside it later, from the same
random numbers, then differs by what the rows say and hardly by chance.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from draincurve.pipeline.fitting.posterior.pareto_smoothing import pareto_smoothed
from draincurve.pipeline.fitting.posterior.posterior_draws import LARGEST_PARETO_SHAPE, Posterior, systematic
from draincurve.pipeline.fitting.rating_model import PointFit
from draincurve.schemas.array_types import Floats, Integers

NO_DIFFERENCE = 1e-6
"""Log ratios that vary by no more are rounding: the rows weight every draw alike."""

LEAST_SHARE = 0.5
"""Effective draws, as a share of the known ones, under which too few of them would carry the weight."""


def reweighted_posterior(
    fit: PointFit, known: Posterior, *, moved: Floats, rng: np.random.Generator
) -> Posterior | None:
    """Draws for `fit` made of the known ones, or None where these are too far from its posterior.

    known : of a fit with the same layout of parameters; moved : (p + 1,), where the columns of that fit's design are
    zero, less where those of `fit` are.
    """
    if known.log_density is None:
        return None
    layout = fit.objective.layout
    draws = known.draws.copy()
    draws[:, 0] += layout.natural(draws)[:, layout.coefficients] @ moved
    _, place, copy = np.unique(known.log_density, return_index=True, return_inverse=True)
    density = fit.objective.log_density(draws[place])
    ratios = density - known.log_density[place]
    if not np.isfinite(ratios).all():
        return None
    shape, weights = 0.0, np.ones(copy.size)
    if np.ptp(ratios) > NO_DIFFERENCE:
        smoothed = pareto_smoothed(ratios)
        shape, weights = smoothed.shape, smoothed.weights[copy]
    effective = float(weights.sum() ** 2 / np.sum(weights**2))
    if not (effective >= LEAST_SHARE * copy.size and shape <= LARGEST_PARETO_SHAPE):
        return None
    chosen = _in_place(systematic(weights, copy.size, rng=rng))
    return replace(
        known,
        draws=draws[chosen],
        method="importance resampling of known draws",
        pareto_shape=shape,
        effective_sample_size=effective,
        log_density=density[copy[chosen]],
        known_at=chosen,
    )


def _in_place(index: Integers) -> Integers:
    """The same indices, each first occurrence at its own position, and further copies where others fell out."""
    times = np.bincount(index, minlength=index.size)
    placed = np.arange(index.size)
    placed[times == 0] = np.repeat(placed, np.maximum(times - 1, 0))
    return placed
