"""Predictions without a model: how often each rating occurred before, in the whole fleet or at similar hours."""

from __future__ import annotations

import numpy as np

from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.channels import RATING_LEVELS

FLEET = "the fleet's ratings so far"
FLEET_BY_HOURS = "the fleet's ratings at like hours"
FLEET_READ = "the fleet's readings so far"
FLEET_BY_HOURS_READ = "the fleet's readings at like hours"
BOOSTED = "boosted trees"

_SMOOTHING = 0.5
_HOURS_BINS = 4


def fleet_distribution(low: Integers, high: Integers) -> Floats:
    """Share of each rating, (K,), half a drain added to each (Krichevsky & Trofimov 1981, IEEE Trans. IT 27).

    low, high : (n,) ratings; a range is split equally over its levels; n may be 0.
    """
    levels = np.arange(1, RATING_LEVELS + 1)
    inside = (low[:, None] <= levels) & (levels <= high[:, None])
    counts = (inside / np.maximum(inside.sum(axis=1, keepdims=True), 1)).sum(axis=0) + _SMOOTHING
    return np.asarray(counts / counts.sum())


def fleet_by_hours(hours_before: Floats, low: Integers, *, high: Integers, hours: Floats) -> Floats:
    """Share of each rating among earlier drains at similar hours, (m, K): one distribution for each quarter by hours.

    hours_before : (n,) hours of the earlier drains [h], with their ratings low, high; hours : (m,) [h], of the drains
    to predict.
    """
    edges = np.quantile(hours_before, np.arange(1, _HOURS_BINS) / _HOURS_BINS)
    quarter = np.searchsorted(edges, hours_before, side="right")
    table = np.array([fleet_distribution(low[quarter == q], high[quarter == q]) for q in range(_HOURS_BINS)])
    return table[np.searchsorted(edges, hours, side="right")]
