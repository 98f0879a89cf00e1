"""Coverage of intervals of the hours to the limit, although these hours are never observed.

A drain shows only whether its oil had passed each rating by the hours at which it was drained (current-status data).
So no interval can be checked against the hours to the limit themselves. Two things can be checked.

1. The predictive distribution at the drained hours. The hours to the limit and the rating follow from the same
   distribution: for given parameters, the rating at h determines which two quantiles of the hours to the limit
   enclose them. If the distribution is right, the rating's probability integral transform, distributed evenly over
   the jump of its distribution function, is uniform (non-randomised form: Czado, Gneiting & Held 2009, Biometrics 65,
   1254-1261). The mean share of that jump inside the central interval of nominal probability c is then c. This mean
   is `covered`. It uses every drain and no random number.
2. Contradictions. A drain made before the interval begins but past the limit had its hours to the limit below the
   interval; one made after the interval ends but not past the limit had them above. The predicted risks give the
   expected number of contradictions among the drains outside, with its range (Poisson binomial). A drain made inside
   the interval cannot contradict it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from draincurve.pipeline.judging.backtest.binomial_intervals import count_range, wilson_interval
from draincurve.schemas.array_types import Floats, Integers

NOMINAL = (0.5, 0.8, 0.9)
_NO_JUMP = 1e-12


@dataclass(frozen=True, slots=True)
class IntervalCoverage:
    """Coverage of central intervals of the hours to the limit.

    nominal : their probability; covered : share of ratings inside the interval, with its 95 % interval (Wilson);
    outside : drains made before the interval begins or after it ends, which alone can contradict it; misses : those
    that do; expected, fewest, most : expected misses of a right interval, and their 95 % range.
    """

    nominal: float
    covered: float
    low: float
    high: float
    outside: int
    misses: int
    expected: float
    fewest: int
    most: int


def interval_coverage(
    probabilities: Floats, low: Integers, *, high: Integers, risk: Floats, past: Floats
) -> tuple[IntervalCoverage, ...]:
    """Coverage of the central intervals of NOMINAL.

    probabilities : (n, K) of each rating; low, high : (n,) ratings; risk : (n,) probability of a rating at or past
    the limit; past : (n,) 1, 0, or NaN where a typed range straddles the limit.
    """
    return tuple(_coverage(nominal, probabilities, low=low, high=high, risk=risk, past=past) for nominal in NOMINAL)


def _coverage(
    nominal: float, probabilities: Floats, *, low: Integers, high: Integers, risk: Floats, past: Floats
) -> IntervalCoverage:
    inside = share_inside(probabilities, low, high=high, nominal=nominal)
    edge = (1.0 - nominal) / 2.0
    early = (risk < edge) & ~np.isnan(past)
    late = (risk > 1.0 - edge) & ~np.isnan(past)
    miss_probability = np.concatenate((risk[early], 1.0 - risk[late]))
    fewest, most = count_range(miss_probability)
    return IntervalCoverage(
        nominal,
        float(inside.mean()),
        *wilson_interval(float(inside.sum()), inside.size),
        int(miss_probability.size),
        int(past[early].sum() + (1.0 - past[late]).sum()),
        float(miss_probability.sum()),
        fewest,
        most,
    )


def share_inside(probabilities: Floats, low: Integers, *, high: Integers, nominal: float) -> Floats:
    """Share of each rating's jump of the distribution function inside the central interval, (n,)."""
    cumulative = np.column_stack((np.zeros(low.size), np.cumsum(probabilities, axis=1)))
    rows = np.arange(low.size)
    return share_between(cumulative[rows, low - 1], cumulative[rows, high], nominal=nominal)


def share_between(start: Floats, end: Floats, *, nominal: float) -> Floats:
    """Share of each jump of a distribution function, from start to end, inside the central interval, (n,).

    A value that is known exactly has no jump, and is inside or outside.
    """
    edge = (1.0 - nominal) / 2.0
    overlap = np.minimum(end, 1.0 - edge) - np.maximum(start, edge)
    jump = end - start
    return np.where(jump > _NO_JUMP, np.maximum(overlap, 0.0) / np.maximum(jump, _NO_JUMP), overlap >= 0.0)
