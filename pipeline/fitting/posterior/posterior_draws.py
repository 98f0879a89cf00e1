"""Draws from the posterior of a rating model: importance resampling around its mode.

Proposals come from a multivariate t (7 degrees of freedom) at the mode, nested over the spreads of pooled groups
where there are any, with a share for units that hardly differ; weights are Pareto-smoothed. While the Pareto shape is
over 0.7 or the effective sample size under 400, proposals refitted to the weighted draws are added and all draws so
far are weighted against the mixture of the proposals they came from (Veach & Guibas 1995; Cornuet et al. 2012, Scand.
J. Stat. 39, 798-812). Large logs use the Gaussian at the mode, which is then exact enough.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp

from draincurve.pipeline.fitting.objective import Objective
from draincurve.pipeline.fitting.posterior.pareto_smoothing import SmoothedWeights, smooth
from draincurve.pipeline.fitting.posterior.proposals import (
    EllipticProposal,
    Proposal,
    inverse_factor,
    nested_proposal,
)
from draincurve.pipeline.fitting.posterior.tail_proposals import TAIL_SHARE, refitted, units_tail
from draincurve.pipeline.fitting.prior import Prior
from draincurve.pipeline.fitting.rating_model import PointFit
from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.errors import FitError

LARGEST_PARETO_SHAPE = 0.7
LEAST_EFFECTIVE_DRAWS = 400.0
MOST_ROUNDS = 10
PROPOSALS_A_ROUND = 2000


@dataclass(frozen=True)
class Posterior:
    """Equally weighted draws of the working parameters (S, size) and how they were got.

    method : importance resampling, or gaussian at the mode; trusted : the Pareto shape and effective sample size
    reached their goals (always true of the Gaussian, whose goodness rests on the number of drains).
    """

    draws: Floats
    method: str
    pareto_shape: float | None
    effective_sample_size: float | None
    rounds: int
    trusted: bool


def sample_posterior(
    fit: PointFit, count: int, rng: np.random.Generator, proposals: int = PROPOSALS_A_ROUND, normal: bool = False
) -> Posterior:
    """`count` draws from the posterior of a fit that had a prior.

    proposals : drawn and weighted in each round; more give more effective draws. normal : whether the posterior is
    taken as the Gaussian at the mode.
    Raises FitError for a maximum-likelihood fit, which has no posterior.
    """
    if fit.objective.prior is None:
        raise FitError("a maximum-likelihood fit has no posterior; fit with a prior")
    mode = fit.maximum.point.working
    factor = inverse_factor(-fit.maximum.hessian)
    if normal:
        draws = mode + rng.standard_normal((count, mode.size)) @ factor.T
        return Posterior(draws, "gaussian at the mode", None, None, 0, True)
    pooled = bool(fit.objective.layout.pooled)
    first = nested_proposal(fit.objective, mode) if pooled else EllipticProposal(mode, factor)
    tail = units_tail(fit.objective, mode) if fit.objective.layout.has_units else None
    return _adapted(fit.objective, first, count, rng, proposals, fit.objective.prior, tail)


def _adapted(
    objective: Objective,
    first: Proposal,
    count: int,
    rng: np.random.Generator,
    a_round: int = PROPOSALS_A_ROUND,
    prior: Prior | None = None,
    tail: Proposal | None = None,
) -> Posterior:
    fresh = [(first, 1.0)] if tail is None else [(first, 1.0 - TAIL_SHARE), (tail, TAIL_SHARE)]
    used: list[Proposal] = []
    numbers: list[int] = []
    draws = np.empty((0, objective.layout.size))
    target = np.empty(0)
    rounds = 0
    while True:
        rounds += 1
        for proposal, share in fresh:
            drawn = proposal.draw(round(share * a_round), rng)
            draws = np.vstack((draws, drawn))
            target = np.append(target, objective.log_density(drawn))
            used.append(proposal)
            numbers.append(drawn.shape[0])
        shares = np.log(np.array(numbers) / sum(numbers))[:, None]
        mixture = logsumexp(shares + [proposal.log_density(draws) for proposal in used], axis=0)
        smoothed = smooth(np.where(np.isfinite(target), target, -np.inf) - mixture)
        if _good(smoothed) or rounds == MOST_ROUNDS:
            break
        fresh = refitted(draws, smoothed, prior)
    return Posterior(
        draws[_systematic(smoothed.weights, count, rng)],
        "importance resampling",
        smoothed.shape,
        smoothed.effective_sample_size,
        rounds,
        _good(smoothed),
    )


def _good(smoothed: SmoothedWeights) -> bool:
    enough = smoothed.effective_sample_size >= LEAST_EFFECTIVE_DRAWS
    return enough and smoothed.shape <= LARGEST_PARETO_SHAPE


def _systematic(weights: Floats, count: int, rng: np.random.Generator) -> Integers:
    """Indices of a systematic resample, shuffled so that no order of the draws remains."""
    points = (np.arange(count) + rng.uniform()) / count
    index = np.searchsorted(np.cumsum(weights), points * np.sum(weights))
    return rng.permutation(np.minimum(index, weights.size - 1)).astype(np.int64)
