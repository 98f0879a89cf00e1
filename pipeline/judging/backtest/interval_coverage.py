"""Whether intervals of the hours to the limit held, though the hours to the limit are never seen.

A drain shows only whether its oil had passed each rating by the hours it was drained at (current-status data), so
no interval can be checked by looking whether the hours fell into it. Two things can be checked.

1. The predictive distribution at the drained hours. Hours to the limit and rating are two readings of one
   distribution: under given parameters the rating at h fixes between which two of its quantiles the hours to the
   limit lie. If the distribution is right, the rating's probability integral transform, spread evenly over the
   jump of its distribution function, is uniform (non-randomised form: Czado, Gneiting & Held 2009, Biometrics 65,
   1254-1261). So the mean share of that jump that lies in the central interval of nominal c is c, and this is
   `covered`. It uses every drain and no random number.
2. Contradictions. A drain made before the interval began, and past the limit all the same, had its hours to the
   limit below the interval; one made after its end, and not past, had them above. Of all drains outside, the
   predicted risks say how many should contradict, which the count is held against (Poisson binomial). A drain made
   inside the interval can contradict nothing.
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
    """How central intervals of the hours to the limit held.

    nominal : their probability; covered : share of ratings inside the interval, with its 95 % interval (Wilson);
    outside : drains made before the interval began or after it ended, where a miss can be seen; misses : those that
    contradict it, of which `expected` would if it were right, in 95 % of cases from `fewest` to `most`.
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
    chances: Floats, low: Integers, *, high: Integers, risk: Floats, past: Floats
) -> tuple[IntervalCoverage, ...]:
    """Coverage of the central intervals of NOMINAL.

    chances : (n, K), chance of each rating; low, high : (n,) ratings; risk : (n,) chance of the limit reached;
    past : (n,) 1, 0, or nan where a typed range straddles the limit.
    """
    return tuple(_coverage(nominal, chances, low=low, high=high, risk=risk, past=past) for nominal in NOMINAL)


def _coverage(
    nominal: float, chances: Floats, *, low: Integers, high: Integers, risk: Floats, past: Floats
) -> IntervalCoverage:
    inside = share_inside(chances, low, high=high, nominal=nominal)
    edge = (1.0 - nominal) / 2.0
    early = (risk < edge) & ~np.isnan(past)
    late = (risk > 1.0 - edge) & ~np.isnan(past)
    miss_chance = np.concatenate((risk[early], 1.0 - risk[late]))
    fewest, most = count_range(miss_chance)
    return IntervalCoverage(
        nominal,
        float(inside.mean()),
        *wilson_interval(float(inside.sum()), inside.size),
        int(miss_chance.size),
        int(past[early].sum() + (1.0 - past[late]).sum()),
        float(miss_chance.sum()),
        fewest,
        most,
    )


def share_inside(chances: Floats, low: Integers, *, high: Integers, nominal: float) -> Floats:
    """Share of each rating's jump of the distribution function that lies in the central interval, (n,)."""
    below = np.column_stack((np.zeros(low.size), np.cumsum(chances, axis=1)))
    rows = np.arange(low.size)
    start, end = below[rows, low - 1], below[rows, high]
    edge = (1.0 - nominal) / 2.0
    overlap = np.minimum(end, 1.0 - edge) - np.maximum(start, edge)
    jump = end - start
    return np.where(jump > _NO_JUMP, np.maximum(overlap, 0.0) / np.maximum(jump, _NO_JUMP), overlap >= 0.0)
