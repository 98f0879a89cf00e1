"""The ordinal rating process, arrays in and arrays out: unit effects, linear predictor, ratings, true risk.

P(rating >= k) = F(eta - theta_k), the current-status form of an accelerated-failure-time model (McCullagh,
1980; for "cloglog" F(x) = 1 - exp(-exp(x)), Weibull hours to a rating).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist

import numpy as np

from draincurve.schemas.array_types import Floats, Integers

FRESHNESS_HOURS = 5.0
"""Hours over which new parts lose all but 1/e of their freshness."""


def draw_unit_effects(
    machine_of_unit: Integers,
    n_channels: int,
    channel_correlation: float,
    pair_correlation: float,
    tail_df: float | None,
    rng: np.random.Generator,
) -> Floats:
    """Unit effects in sds, shape (channels, units), mean 0 and variance 1, t-tailed when `tail_df` is given.

    Legs of one machine share `pair_correlation`; channels of one unit share `channel_correlation`.
    """
    n_units = machine_of_unit.size
    n_machines = int(machine_of_unit.max()) + 1

    def one_set() -> Floats:
        own = rng.standard_normal(n_units)
        shared = rng.standard_normal(n_machines)[machine_of_unit]
        return math.sqrt(1 - pair_correlation) * own + math.sqrt(pair_correlation) * shared

    common = one_set()
    # The first channel is the common part itself, so that any two channels correlate by the number asked for.
    weights = [1.0] + [channel_correlation] * (n_channels - 1)
    effects = np.stack([w * common + math.sqrt(1 - w * w) * one_set() for w in weights])
    if tail_df is not None:
        # One divisor for each unit: a unit far out in one channel is far out in the other.
        divisor = np.sqrt(rng.chisquare(tail_df, n_units) / tail_df)
        effects = effects / divisor * math.sqrt((tail_df - 2) / tail_df)
    return effects


def draw_noise(link: str, shape: tuple[int, ...], rng: np.random.Generator) -> Floats:
    """Noise whose upper tail is the link: P(noise >= x) = F(-x)."""
    if link == "logit":
        return rng.logistic(size=shape)
    if link == "probit":
        return rng.standard_normal(shape)
    return rng.gumbel(size=shape)


def mean_freshness(spring_hours: Floats, oil_hours: Floats) -> Floats:
    """Mean of exp(-s / 5 h) for spring hours s from the fill's start to its end; both [h], any shape."""
    start = np.maximum(spring_hours - oil_hours, 0.0)
    fresh = np.exp(-start / FRESHNESS_HOURS) - np.exp(-spring_hours / FRESHNESS_HOURS)
    mean: Floats = FRESHNESS_HOURS * fresh / np.maximum(spring_hours - start, 1e-9)
    return mean


def ratings_from(eta: Floats, noise: Floats, thresholds: Sequence[float]) -> Integers:
    """Ratings from 1 up: one more for each threshold that the predictor with its noise reaches."""
    return 1 + np.searchsorted(np.asarray(thresholds), eta + noise, side="right").astype(np.int64)


def chance_at_or_over(link: str, eta: Floats, threshold: float) -> Floats:
    """P(rating at or over the one that `threshold` cuts), same shape as eta."""
    x = np.asarray(eta, dtype=np.float64) - threshold
    if link == "logit":
        logistic: Floats = 1.0 / (1.0 + np.exp(-x))
        return logistic
    if link == "probit":
        normal: Floats = np.vectorize(NormalDist().cdf, otypes=[np.float64])(x)
        return normal
    at_or_over: Floats = -np.expm1(-np.exp(x))
    return at_or_over


def predictor_at_risk(link: str, risk: float) -> float:
    """The x at which F(x) is `risk`."""
    if link == "logit":
        return math.log(risk / (1 - risk))
    if link == "probit":
        return NormalDist().inv_cdf(risk)
    return math.log(-math.log1p(-risk))


def hours_at_risk(link: str, risk: float, threshold: float, hours_slope: float, rest: Floats) -> Floats:
    """Hours [h] at which the chance of reaching `threshold` is `risk`, given the rest of the predictor."""
    hours: Floats = np.exp((threshold + predictor_at_risk(link, risk) - np.asarray(rest)) / hours_slope)
    return hours
