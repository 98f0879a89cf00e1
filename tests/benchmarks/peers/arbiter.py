"""The arbiter: one log likelihood for everybody's estimates, computed another way than any program compared here.

Each unit's integral over its effect is a trapezoid sum over evenly spaced effects, the spacing halved until the whole
log likelihood stands still. For a smooth density that dies off at both ends this rule gains digits with every halving
(Trefethen & Weideman 2014, SIAM Review 56, 385-458); it has no mode to find and no nodes to place. It shares no code
with `pipeline`. Logit link.
"""

from __future__ import annotations

import numpy as np
from scipy.special import expit, logsumexp

from draincurve.schemas.array_types import Floats, Integers
from tests.benchmarks.peers.peer_fit import PeerFit, RatedRows

REACH = 10.0
"""Effects are summed from -REACH to REACH standard deviations."""

STANDS_STILL = 1e-6
FIRST_PIECES, MOST_PIECES = 160, 5_120
_CHANCES_AT_ONCE = 4_000_000


def arbitrated(fit: PeerFit, rows: RatedRows) -> float:
    """Log likelihood of the rows at a fit's estimates, to about STANDS_STILL."""
    cuts = np.concatenate(([-np.inf], fit.thresholds, [np.inf]))
    base = rows.columns @ fit.coefficients
    upper, lower = cuts[rows.ratings] - base, cuts[rows.ratings - 1] - base
    if fit.unit_sd == 0.0:
        return float(log_chances(upper, lower).sum())
    order = np.argsort(rows.unit, kind="stable")
    starts = np.flatnonzero(np.diff(rows.unit[order], prepend=-1))
    upper, lower = upper[order], lower[order]
    pieces, value = FIRST_PIECES, _summed(upper, lower, starts, fit.unit_sd, FIRST_PIECES)
    while pieces < MOST_PIECES:
        pieces, before = 2 * pieces, value
        value = _summed(upper, lower, starts, fit.unit_sd, pieces)
        if abs(value - before) < STANDS_STILL:
            return value
    raise ArithmeticError(f"the sum over effects still moves at {MOST_PIECES} pieces: {before}, {value}")


def log_chances(upper: Floats, lower: Floats) -> Floats:
    """log(F(upper) - F(lower)) of the logistic law, taken in the tail in which both are small."""
    mirrored = upper + lower > 0.0
    high, low = np.where(mirrored, -lower, upper), np.where(mirrored, -upper, lower)
    with np.errstate(divide="ignore"):  # a chance of 0 far out has no weight in the sum
        return np.asarray(np.log(expit(high) - expit(low)))


def _summed(upper: Floats, lower: Floats, starts: Integers, unit_sd: float, pieces: int) -> float:
    """Sum over units of the log of the trapezoid sum over `pieces` + 1 effects."""
    effects = np.linspace(-REACH, REACH, pieces + 1)
    log_weights = -0.5 * effects**2 - 0.5 * np.log(2.0 * np.pi) + np.log(effects[1] - effects[0])
    total = 0.0
    ends = np.append(starts[1:], upper.size)
    first = 0
    while first < starts.size:
        room = starts[first] + _CHANCES_AT_ONCE // effects.size
        last = max(first + 1, int(np.searchsorted(ends, room, side="right")))
        rows = slice(starts[first], ends[last - 1])
        away = unit_sd * effects
        logs = log_chances(upper[rows, None] - away, lower[rows, None] - away)
        by_unit = np.add.reduceat(logs, starts[first:last] - starts[first], axis=0)
        total += float(logsumexp(by_unit + log_weights, axis=1).sum())
        first = last
    return total
