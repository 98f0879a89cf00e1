"""Intervals of a proportion, and the distribution of a count of events with unequal probabilities."""

from __future__ import annotations

import numpy as np
from scipy.special import betaincinv, ndtri

from draincurve.schemas.array_types import Floats

LEVEL = 0.95


def wilson_interval(count: float, trials: int) -> tuple[float, float]:
    """95 % score interval of a proportion, for a possibly fractional count (Wilson 1927, JASA 22, 209-212)."""
    z2 = float(ndtri(0.5 + LEVEL / 2)) ** 2
    centre = (count + z2 / 2) / (trials + z2)
    half_width = np.sqrt(z2 * (count * (trials - count) / trials + z2 / 4)) / (trials + z2)
    return max(0.0, float(centre - half_width)), min(1.0, float(centre + half_width))


def exact_interval(count: int, trials: int) -> tuple[float, float]:
    """95 % exact interval of a proportion (Clopper & Pearson 1934, Biometrika 26, 404-413)."""
    tail = (1.0 - LEVEL) / 2
    low = float(betaincinv(count, trials - count + 1, tail)) if count else 0.0
    high = float(betaincinv(count + 1, trials - count, 1.0 - tail)) if count < trials else 1.0
    return low, high


def count_range(probabilities: Floats) -> tuple[int, int]:
    """Central 95 % range of a count of independent events with these probabilities, (n,) (Poisson binomial)."""
    mass = np.ones(1)
    for probability in probabilities:
        mass = np.append(mass * (1.0 - probability), 0.0) + np.append(0.0, mass * probability)
    cumulative = np.cumsum(mass)
    low, high = np.searchsorted(cumulative, ((1.0 - LEVEL) / 2, (1.0 + LEVEL) / 2))
    return int(low), int(min(high, probabilities.size))
