"""Intervals of a share, and the chance distribution of a count of unlike chances."""

from __future__ import annotations

import numpy as np
from scipy.special import betaincinv, ndtri

from draincurve.schemas.array_types import Floats

LEVEL = 0.95


def wilson_interval(count: float, trials: int) -> tuple[float, float]:
    """95 % score interval of a share (Wilson 1927, J. Am. Stat. Assoc. 22, 209-212); `count` may be broken."""
    z2 = float(ndtri(0.5 + LEVEL / 2)) ** 2
    centre = (count + z2 / 2) / (trials + z2)
    reach = np.sqrt(z2 * (count * (trials - count) / trials + z2 / 4)) / (trials + z2)
    return max(0.0, float(centre - reach)), min(1.0, float(centre + reach))


def exact_interval(count: int, trials: int) -> tuple[float, float]:
    """95 % exact interval of a share (Clopper & Pearson 1934, Biometrika 26, 404-413)."""
    tail = (1.0 - LEVEL) / 2
    low = float(betaincinv(count, trials - count + 1, tail)) if count else 0.0
    high = float(betaincinv(count + 1, trials - count, 1.0 - tail)) if count < trials else 1.0
    return low, high


def count_range(chances: Floats) -> tuple[int, int]:
    """Central 95 % range of how many of independent events with these chances (n,) come (Poisson binomial)."""
    mass = np.ones(1)
    for chance in chances:
        mass = np.append(mass * (1.0 - chance), 0.0) + np.append(0.0, mass * chance)
    below = np.cumsum(mass)
    low, high = np.searchsorted(below, ((1.0 - LEVEL) / 2, (1.0 + LEVEL) / 2))
    return int(low), int(min(high, chances.size))
