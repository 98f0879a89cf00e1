"""Association of two channels: correlation of a unit's two effects, and odds ratio of a drain's two ratings.

Second stage of a fit by margins first: the posterior of the two numbers, on a grid, at the posterior means of the
channels' own parameters. Reference: Joe (2005), Asymptotic efficiency of the two-stage estimation method for
copula-based models, J. Multivar. Anal. 94, 401-419.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import prange
from scipy.special import expit, logsumexp, roots_hermite

from draincurve.pipeline.fitting.joint.pair_quadrature import fill_pair_factors, unit_log_likelihood
from draincurve.pipeline.fitting.joint.paired_drains import ChannelRatings
from draincurve.pipeline.fitting.thread_limits import compiled_loop
from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.settings import Priors

NODES = 3
"""Nodes of either effect, centred on the joint density."""

CELLS = ((9, 9), (9, 9), (13, 11))
"""Cells of the grids, each inside the one before."""

_LOGIT_ENDS = (-3.0, 5.0)
"""Ends of logit((1 + correlation) / 2) on the first grid: correlations from -0.91 to 0.987."""

_SDS_UNDER, _SDS_OVER = 3.0, 4.0
"""Ends of the log odds ratio on the first grid, in sds of its prior from its mean."""

_WITHIN = 9.0
"""The next grid covers where the log posterior is within this distance of its maximum: 99.98 % of a normal one."""


@dataclass(frozen=True)
class Association:
    """Draws of both numbers, (S,) each.

    correlation : of a unit's effects on the two channels; log_odds_ratio : of a drain's two ratings, given the
    effects
    """

    correlation: Floats
    log_odds_ratio: Floats


def sampled_association(
    first: ChannelRatings,
    second: ChannelRatings,
    starts: Integers,
    *,
    link: int,
    priors: Priors,
    draws: int,
    rng: np.random.Generator,
) -> Association:
    """Draws from the posterior of the association.

    first, second : ratings under one draw each, the posterior mean; starts : (U + 1,), first drain of each unit.
    """
    x, weights = roots_hermite(NODES)
    rule = np.ascontiguousarray(x), np.log(weights) + x**2
    mean, sd = priors.log_odds_ratio, priors.log_odds_ratio_sd
    ends = np.array([_LOGIT_ENDS, (mean - _SDS_UNDER * sd, mean + _SDS_OVER * sd)])
    for cells in CELLS:
        edges = [np.linspace(end[0], end[1], count + 1) for end, count in zip(ends, cells, strict=True)]
        logits, log_odds = np.meshgrid(*[(edge[1:] + edge[:-1]) / 2 for edge in edges], indexing="ij")
        points = np.column_stack((2 * expit(logits.ravel()) - 1, log_odds.ravel()))
        values = log_likelihoods(link, first, second, starts, points, *rule).reshape(cells)
        values += _log_prior(logits, log_odds, priors)
        inside = values > values.max() - _WITHIN
        for axis, edge in enumerate(edges):
            kept = np.flatnonzero(inside.any(axis=1 - axis))
            # One more cell on either side: a narrow posterior may peak near an edge of the cells that are kept.
            ends[axis] = edge[max(kept[0] - 1, 0)], edge[min(kept[-1] + 2, edge.size - 1)]
    mass = np.exp(values - logsumexp(values)).ravel()
    marks = rng.permutation((np.arange(draws) + rng.uniform(size=draws)) / draws)
    cell = np.minimum(np.searchsorted(np.cumsum(mass), marks), mass.size - 1)
    drawn = [
        edge[index] + rng.uniform(size=draws) * (edge[1] - edge[0])
        for edge, index in zip(edges, np.unravel_index(cell, values.shape), strict=True)
    ]
    return Association(2 * expit(drawn[0]) - 1, drawn[1])


def _log_prior(logits: Floats, log_odds: Floats, priors: Priors) -> Floats:
    """Log density of logit((1 + correlation) / 2) and the log odds ratio, but for a constant."""
    share = expit(logits)
    beta: Floats = priors.unit_correlation_high * np.log(share) + priors.unit_correlation_low * np.log1p(-share)
    return np.asarray(beta - 0.5 * np.square((log_odds - priors.log_odds_ratio) / priors.log_odds_ratio_sd))


@compiled_loop
def log_likelihoods(
    link: int,
    first: ChannelRatings,
    second: ChannelRatings,
    starts: Integers,
    points: Floats,
    nodes: Floats,
    log_weights: Floats,
) -> Floats:
    """Log likelihood at each point (correlation, log odds ratio), (points,)."""
    drains = first.low.size
    factors = np.empty((4, drains))
    fill_pair_factors(link, first, second, int(np.int64(0)), factors)
    sds = np.array([first.unit_sds[0], second.unit_sds[0]])
    values, nothing = np.zeros(points.shape[0]), np.zeros(4)
    for point in prange(points.shape[0]):
        mode = np.zeros(2)
        for unit in range(starts.size - 1):
            mode[:] = 0.0
            values[point] += unit_log_likelihood(
                link,
                factors,
                starts[unit],
                starts[unit + 1],
                sds,
                points[point, 0],
                math.exp(points[point, 1]),
                nothing,
                mode,
                nodes,
                log_weights,
            )
    return values
