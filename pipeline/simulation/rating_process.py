"""The ordinal rating process over arrays: unit effects, noise, ratings, true hours at a risk.

P(rating >= k) = F(eta - theta_k), the current-status form of an accelerated-failure-time model (McCullagh,
1980; for "cloglog" F(x) = 1 - exp(-exp(x)), Weibull hours to a rating).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist

import numpy as np
from scipy import special

from draincurve.schemas.array_types import Floats, Integers

FRESHNESS_HOURS = 5.0
"""Hours in which the freshness of new parts falls to 1/e."""


def simulate_unit_effects(
    machine_of_unit: Integers,
    n_channels: int,
    *,
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
        independent = rng.standard_normal(n_units)
        shared = rng.standard_normal(n_machines)[machine_of_unit]
        return math.sqrt(1 - pair_correlation) * independent + math.sqrt(pair_correlation) * shared

    common = one_set()
    # The first channel is the common part itself, so that it correlates with the others by `channel_correlation`.
    weights = [1.0] + [channel_correlation] * (n_channels - 1)
    effects = np.stack([w * common + math.sqrt(1 - w * w) * one_set() for w in weights])
    if tail_df is not None:
        # One divisor for each unit: a unit that is extreme in one channel is extreme in the other.
        divisor = np.sqrt(rng.chisquare(tail_df, n_units) / tail_df)
        effects = effects / divisor * math.sqrt((tail_df - 2) / tail_df)
    return effects


def draw_noise(link: str, shape: tuple[int, ...], *, rng: np.random.Generator) -> Floats:
    """Noise with the link's upper tail: P(noise >= x) = F(-x)."""
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


def drawn_ratings(eta: Floats, noise: Floats, *, thresholds: Sequence[float]) -> Integers:
    """Ratings from 1 up: one more for each threshold that linear predictor plus noise reaches."""
    return 1 + np.searchsorted(np.asarray(thresholds), eta + noise, side="right").astype(np.int64)


def link_quantile(link: str, risk: float) -> float:
    """The x with F(x) = risk."""
    if link == "logit":
        return math.log(risk / (1 - risk))
    if link == "probit":
        return NormalDist().inv_cdf(risk)
    return math.log(-math.log1p(-risk))


def oil_hours_at_risk(link: str, risk: float, hours: Sequence[Floats], *, hours_slopes: Sequence[float]) -> Floats:
    """Hours [h] at which some channel is past its limit with probability `risk`.

    hours : each channel's own hours at that risk, of equal shapes. Ratings of one drain are independent given the
    unit, so each channel may have the share 1 - (1 - risk)^(1 / channels) at least: the bracket of the search.
    """
    at_risk = link_quantile(link, risk)
    logs = [np.log(log_hours) for log_hours in hours]
    lowest = link_quantile(link, -math.expm1(math.log1p(-risk) / len(logs)))
    low = np.min(
        [log_hours + (lowest - at_risk) / slope for log_hours, slope in zip(logs, hours_slopes, strict=True)], axis=0
    )
    high = np.min(logs, axis=0)
    for _ in range(60):
        middle = (low + high) / 2
        fit = np.prod(
            [
                1 - upper_tail(link, at_risk + slope * (middle - log_hours))
                for log_hours, slope in zip(logs, hours_slopes, strict=True)
            ],
            axis=0,
        )
        low, high = np.where(1 - fit < risk, middle, low), np.where(1 - fit < risk, high, middle)
    return np.asarray(np.exp((low + high) / 2))


def upper_tail(link: str, x: Floats) -> Floats:
    """F(x), elementwise: the chance of noise over -x."""
    if link == "logit":
        return np.asarray(special.expit(x))
    if link == "probit":
        return np.asarray(special.ndtr(x))
    return np.asarray(-np.expm1(-np.exp(x)))


def hours_at_risk(link: str, risk: float, *, threshold: float, hours_slope: float, rest: Floats) -> Floats:
    """Hours [h] at which the probability of reaching `threshold` is `risk`.

    rest : the linear predictor without its term for hours
    """
    hours: Floats = np.exp((threshold + link_quantile(link, risk) - np.asarray(rest)) / hours_slope)
    return hours
