"""Cumulative sums of the log likelihood ratio of a changed against an unchanged unit, compiled.

A drain's ratings are predicted from the unit's earlier drains, twice: as if it had not changed, and as if it had at
the last drain at which the sum was zero. Each channel's effect of the unit is integrated over its posterior given the
channel's earlier ratings, on a grid. The ratings of one drain are joined by Plackett's distribution with the fit's
odds ratio; of three channels and more each is joined to the one before it, given which it is taken as independent of
the others. A changed unit is worse on every channel or on one of them, each as likely beforehand: the ratio is that
of the mixture over these patterns, whose weights follow the drains since the change.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit, prange

from draincurve.pipeline.fitting import cell_probability, compiled_loop, distribution_at, node_factor
from draincurve.pipeline.judging.changepoints.cusum import next_sum
from draincurve.schemas.array_types import Booleans, Floats, Integers

LARGEST_STEP = 2.0
"""Steps are capped, so that one unusual drain alone is no change."""

LOGS_AT_ONCE = 256
"""Logs that share the distribution functions of a drain, which are the costly part."""

_TINY = 1e-300


class WatchedModel(NamedTuple):
    """The rating models of C channels at the drains (n) of a log.

    link : the link's code; bounds : (C, K + 1); fixed : (C, n), linear predictors without the unit's effect;
    unit_sds, shifts : (C,), sd of the unit effect, and rise of the predictor after a change; odds_ratios : (C - 1,),
    of each channel's rating and that of the one before it; patterns : (P, C), whether a change shows in a channel
    """

    link: int
    bounds: Floats
    fixed: Floats
    unit_sds: Floats
    shifts: Floats
    odds_ratios: Floats
    patterns: Booleans


@compiled_loop
def change_sums(
    model: WatchedModel,
    starts: Integers,
    restart: Booleans,
    counted: Booleans,
    low: Integers,
    high: Integers,
    grid: Floats,
    prior: Floats,
) -> tuple[Floats, Integers]:
    """Sums, and the likeliest pattern of the change, each (R, n).

    starts : (U + 1,), slice bounds of units, drains of a unit in order of time; restart : (n,), whether the sum
    starts again from zero; counted : (C, n), whether a rating enters the sum, or only lets the unit be known; low,
    high : ratings (C, R, n) of R logs on the same drains, the whole scale where there is none; grid : of the effect
    (Q,), in sd; prior : its weights before a unit's first drain (Q,).
    """
    channels, logs, n = low.shape
    sums = np.empty((logs, n))
    likeliest = np.empty((logs, n), dtype=np.int64)
    nodes = np.empty((channels, grid.size))
    for c in range(channels):
        for q in range(grid.size):
            nodes[c, q] = node_factor(model.link, model.unit_sds[c] * grid[q])
    for u in prange(starts.size - 1):
        below = np.empty((2, channels, model.bounds.shape[1], grid.size))
        margins = np.empty((2, channels, 2))
        for first in range(0, logs, LOGS_AT_ONCE):
            some = min(LOGS_AT_ONCE, logs - first)
            weights = np.empty((some, 2, channels, grid.size))
            weights[:] = prior
            mixtures = np.full((some, model.patterns.shape[0]), 1.0 / model.patterns.shape[0])
            levels = np.zeros(some)
            for i in range(starts[u], starts[u + 1]):
                ratings_low, ratings_high = low[:, first : first + some, i], high[:, first : first + some, i]
                _fill_distributions(model, i, ratings_low, ratings_high, nodes, below)
                for r in range(some):
                    if restart[i]:
                        levels[r] = 0.0
                        _reset_change(weights[r], mixtures[r])
                    _predict(counted[:, i], ratings_low[:, r], ratings_high[:, r], below, weights[r], margins)
                    step = min(_step(margins, model.odds_ratios, model.patterns, mixtures[r]), LARGEST_STEP)
                    levels[r] = next_sum(levels[r], step)
                    if levels[r] == 0.0:
                        _reset_change(weights[r], mixtures[r])
                    sums[first + r, i] = levels[r]
                    likeliest[first + r, i] = mixtures[r].argmax()
    return sums, likeliest


@njit(cache=True, inline="always")
def _reset_change(weights: Floats, mixture: Floats) -> None:
    """A change would begin with the next drain: until now the unit is unchanged."""
    weights[1] = weights[0]
    mixture[:] = 1.0 / mixture.size


@njit(cache=True)
def _fill_distributions(
    model: WatchedModel, i: int, low: Integers, high: Integers, nodes: Floats, below: Floats
) -> None:
    """Distribution functions (2, C, K + 1, Q) of drain i, unchanged and changed, at bounds of the ratings (C, R)."""
    used = np.zeros((low.shape[0], below.shape[2]), dtype=np.bool_)
    for c in range(low.shape[0]):
        for r in range(low.shape[1]):
            used[c, low[c, r] - 1] = used[c, high[c, r]] = True
        for changed in range(2):
            fixed = model.fixed[c, i] + changed * model.shifts[c]
            for k in range(used.shape[1]):
                if used[c, k]:
                    bound = node_factor(model.link, fixed - model.bounds[c, k])
                    for q in range(nodes.shape[1]):
                        below[changed, c, k, q] = distribution_at(model.link, bound, nodes[c, q])


@njit(cache=True)
def _predict(
    counted: Booleans, low: Integers, high: Integers, below: Floats, weights: Floats, margins: Floats
) -> None:
    """Fill the margins (2, C, 2) of a drain, unchanged and changed; weights (2, C, Q) become those given it.

    below : as `_fill_distributions` fills it
    """
    for c in range(low.size):
        if high[c] - low[c] < below.shape[2] - 2:
            for changed in range(2):
                distribution = below[changed, c]
                _bayes_update(
                    distribution[high[c]], distribution[low[c] - 1], weights[changed, c], margins[changed, c]
                )
            if counted[c]:
                continue
            weights[1, c] = weights[0, c]
        margins[:, c, 0], margins[:, c, 1] = 1.0, 0.0


@njit(cache=True)
def _bayes_update(above: Floats, below: Floats, weights: Floats, margin: Floats) -> None:
    """Fill the predictive distribution function (2,) over and under a rating; weights (Q,) become those given it.

    above, below : distribution functions (Q,) at the bounds over and under the rating
    """
    over, under, total = 0.0, 0.0, 0.0
    for q in range(weights.size):
        over += weights[q] * above[q]
        under += weights[q] * below[q]
        weights[q] *= max(above[q] - below[q], _TINY)
        total += weights[q]
    margin[0], margin[1] = over, under
    for q in range(weights.size):
        weights[q] /= total


@njit(cache=True)
def _step(margins: Floats, odds_ratios: Floats, patterns: Booleans, mixture: Floats) -> float:
    """Log likelihood ratio of one drain; the weights of the patterns (P,) become those given it."""
    unchanged = _probability(margins, odds_ratios, np.zeros(patterns.shape[1], dtype=np.bool_))
    ratio = 0.0
    for p in range(patterns.shape[0]):
        mixture[p] *= _probability(margins, odds_ratios, patterns[p]) / unchanged
        ratio += mixture[p]
    for p in range(patterns.shape[0]):
        mixture[p] /= ratio
    return float(math.log(ratio))


@njit(cache=True)
def _probability(margins: Floats, odds_ratios: Floats, changed: Booleans) -> float:
    """Probability of one drain's ratings where some channels have changed: first one, then each given the last."""
    over, under = margins[int(changed[0]), 0]
    probability = max(over - under, _TINY)
    for c in range(1, changed.size):
        above, below = margins[int(changed[c]), c]
        probability *= cell_probability(over, under, above, below, odds_ratios[c - 1]) / max(over - under, _TINY)
        over, under = above, below
    return float(max(probability, _TINY))
