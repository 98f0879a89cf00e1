"""Days until hours ridden reach the hours left: first passage of a drifted random walk.

Hours ridden are taken as a random walk with drift r [h/day] and variance v [h^2/day]; the first day on
which it reaches L hours has the inverse Gaussian law with mean L / r and shape L^2 / v. The uncertainty of
the rate itself adds rate_variance x (L / r) to v, its share of the variance at the mean passage.
References: Schroedinger (1915), Phys. Z. 16, 289-295; Folks & Chhikara (1978), J. R. Stat. Soc. B 40,
263-289.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.special import log_ndtr, ndtr

from draincurve.pipeline.deciding.bracketed_root import increasing_roots
from draincurve.schemas.array_types import Floats, Integers

LEAST_HOURS = 1e-6
"""Fewer hours left than this are passed at once."""

LEAST_VARIANCE = 1e-9
"""Relative to drift x hours left: under this the walk is a straight line to every digit that is shown."""


def passage_days(hours_left: Floats, drift: Floats, variance: Floats, points: Sequence[float]) -> Floats:
    """Quantiles of the days until the hours left are ridden.

    hours_left [h], drift [h/day], variance [h^2/day] : arrays, shape (n,); hours left and drift over zero
    Returns array, shape (n, points) [days], ascending where the points are.
    """
    hours = np.maximum(hours_left, LEAST_HOURS)
    mean = hours / drift
    dispersion = np.maximum(variance, LEAST_VARIANCE * drift * hours) / (drift * hours)
    columns = [mean * _unit_mean_quantile(dispersion, point) for point in points]
    return np.stack(columns, axis=1)


def effective_variance(hours_left: Floats, drift: Floats, day_variance: Floats, rate_variance: Floats) -> Floats:
    """Variance per day [h^2/day] with the uncertainty of the rate in it, at the mean passage."""
    total: Floats = day_variance + rate_variance * hours_left / drift
    return total


def _unit_mean_cdf(time: Floats, dispersion: Floats) -> Floats:
    """Inverse Gaussian distribution function with mean 1 and shape 1 / dispersion; the second term in logs."""
    root = np.sqrt(1.0 / (dispersion * time))
    probability: Floats = ndtr(root * (time - 1.0)) + np.exp(2.0 / dispersion + log_ndtr(-root * (time + 1.0)))
    return probability


def _unit_mean_quantile(dispersion: Floats, point: float) -> Floats:
    """Quantile of the inverse Gaussian with mean 1 and shape 1 / dispersion, solved in the log of time."""
    width = 12.0 * np.sqrt(dispersion) + 12.0 * dispersion
    low, high = np.maximum(-width, -700.0), np.minimum(width, 60.0)

    def short_of(rows: Integers, at: Floats) -> tuple[Floats, Floats]:
        time, wide = np.exp(at), dispersion[rows]
        log_density = -0.5 * np.log(2 * np.pi * wide * time) - np.square(time - 1.0) / (2 * wide * time)
        return _unit_mean_cdf(time, wide) - point, np.exp(log_density)

    return np.exp(increasing_roots(short_of, low, high, np.zeros(dispersion.size)))
