"""Two ratings of one drain: the joint distribution with given margins and a constant global odds ratio, compiled.

With u and v the probabilities of the two channels to be at or under a rating, C(u, v) is that of both, and

    odds ratio = C (1 - u - v + C) / ((u - C)(v - C))

is the same at every pair of ratings. At an odds ratio of 1 the ratings are independent: C = u v.
References: Plackett (1965), A class of bivariate distributions, J. Am. Stat. Assoc. 60, 516-522; Dale (1986), Global
cross-ratio models for bivariate, discrete, ordered responses, Biometrics 42, 909-917.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from draincurve.schemas.array_types import Floats

_TINY = 1e-300


@njit(cache=True, inline="always")
def joint_distribution(u: float, v: float, odds_ratio: float) -> float:
    """C(u, v). No digits are lost near an odds ratio of 1."""
    more = odds_ratio - 1.0
    s = 1.0 + more * (u + v)
    root = math.sqrt(max(s * s - 4.0 * odds_ratio * more * u * v, 0.0))
    if s > 0.0:
        return 2.0 * odds_ratio * u * v / (s + root)
    return (s - root) / (2.0 * more)


@njit(cache=True, inline="always")
def by_first_margin(u: float, v: float, odds_ratio: float) -> float:
    """Derivative of C by u: the probability of the second channel's event, given the first one's at its limit."""
    more = odds_ratio - 1.0
    s = 1.0 + more * (u + v)
    root = math.sqrt(max(s * s - 4.0 * odds_ratio * more * u * v, 1e-300))
    return 0.5 - 0.5 * (s - 2.0 * odds_ratio * v) / root


@njit(cache=True, inline="always")
def cell_probability(a1: float, b1: float, a2: float, b2: float, odds_ratio: float) -> float:
    """Probability of the ratings between b1 < a1 on the first channel and b2 < a2 on the second, over 0.

    a, b : distribution functions at the bounds, 1 and 0 where a channel has no rating. The cell is reflected into
    the corner in which fewest digits cancel: 1 - u has the inverse odds ratio, and reflecting both keeps it.
    """
    if b1 > 0.5:
        a1, b1 = 1.0 - b1, 1.0 - a1
        odds_ratio = 1.0 / odds_ratio
    if b2 > 0.5:
        a2, b2 = 1.0 - b2, 1.0 - a2
        odds_ratio = 1.0 / odds_ratio
    p = joint_distribution(a1, a2, odds_ratio)
    if b1 > 0.0:
        p -= joint_distribution(b1, a2, odds_ratio)
    if b2 > 0.0:
        p -= joint_distribution(a1, b2, odds_ratio)
        if b1 > 0.0:
            p += joint_distribution(b1, b2, odds_ratio)
    return max(p, 1e-15 * (a1 - b1) * (a2 - b2), _TINY)


def both_past(p: Floats, q: Floats, log_odds_ratio: Floats) -> Floats:
    """Probability that both channels are past their limits, elementwise, from each one's own.

    The distribution of survivals has the same form and the same odds ratio.

    >>> round(float(both_past(0.1, 0.1, 0.0)), 12)
    0.01
    >>> round(float(both_past(0.1, 0.1, 3.0)), 3)
    0.064
    """
    odds_ratio = np.exp(log_odds_ratio)
    s = 1.0 + (odds_ratio - 1.0) * (p + q)
    root = np.sqrt(np.maximum(s * s - 4.0 * odds_ratio * (odds_ratio - 1.0) * p * q, 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        far = (s - root) / (2.0 * (odds_ratio - 1.0))
    return np.where(s > 0.0, 2.0 * odds_ratio * p * q / (s + root), far)


def second_uniform(first: Floats, conditional: Floats, odds_ratio: float) -> Floats:
    """A uniform number associated with `first`, elementwise, from an independent one.

    The inverse of the conditional distribution: Johnson (1987), Multivariate Statistical Simulation, ch. 10.

    >>> round(float(second_uniform(0.3, 0.6, 1.0)), 12)
    0.6
    >>> round(float(second_uniform(0.3, 0.6, 8.0)), 3)
    0.425
    """
    a = conditional * (1.0 - conditional)
    b = odds_ratio + a * (odds_ratio - 1.0) ** 2
    c = 2.0 * a * (first * odds_ratio**2 + 1.0 - first) + odds_ratio * (1.0 - 2.0 * a)
    d = np.sqrt(odds_ratio * (odds_ratio + 4.0 * a * first * (1.0 - first) * (1.0 - odds_ratio) ** 2))
    return np.asarray((c - (1.0 - 2.0 * conditional) * d) / (2.0 * b))
