"""Draws from the posterior of a rating model: adaptive importance resampling, starting around its mode.

The first proposal is a multivariate t (7 degrees of freedom) at the mode, nested over the standard deviations of
pooled groups if there are any; a share of the draws comes from a proposal for unit effects near zero. Weights are
Pareto-smoothed. While the Pareto shape is over 0.7 or the effective sample size under 400, proposals refitted to the
weighted draws are added, and all draws so far are weighted against the mixture of the proposals that they came from
(Veach & Guibas 1995; Cornuet et al. 2012, Scand. J. Stat. 39, 798-812). Large logs use the Gaussian at the mode,
which is accurate enough there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import logsumexp

from draincurve.pipeline.fitting.objective import Objective
from draincurve.pipeline.fitting.posterior.pareto_smoothing import SmoothedWeights, pareto_smoothed
from draincurve.pipeline.fitting.posterior.proposals import (
    MultivariateT,
    Proposal,
    inverse_cholesky,
    nested_proposal,
)
from draincurve.pipeline.fitting.posterior.tail_proposals import TAIL_SHARE, refitted_proposals, unit_sd_tail
from draincurve.pipeline.fitting.prior import Prior
from draincurve.pipeline.fitting.rating_model import PointFit
from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.errors import FitError

LARGEST_PARETO_SHAPE = 0.7
LEAST_EFFECTIVE_DRAWS = 400.0
MOST_ROUNDS = 10
DRAWS_PER_ROUND = 2000


@dataclass(frozen=True)
class Posterior:
    """Equally weighted draws of the working parameters (S, size), and how they were made.

    method : importance resampling, or gaussian at the mode; trusted : the Pareto shape and effective sample size
    reached their goals (always true of the Gaussian, whose accuracy depends on the number of drains); log_density :
    (S,), of the posterior at the draws but for a constant, None of the Gaussian; known_at : (S,), which
    known draw each is, None where they were drawn for this fit
    """

    draws: Floats
    method: str
    pareto_shape: float | None
    effective_sample_size: float | None
    rounds: int
    trusted: bool
    log_density: Floats | None = None
    known_at: Integers | None = None

    def of_draws(self, chosen: Integers) -> Posterior:
        """The same with some of its draws."""
        density = self.log_density
        return replace(
            self, draws=self.draws[chosen], log_density=None if density is None else density[chosen], known_at=None
        )


def sample_posterior(
    fit: PointFit,
    count: int,
    *,
    rng: np.random.Generator,
    draws_per_round: int = DRAWS_PER_ROUND,
    normal: bool = False,
) -> Posterior:
    """`count` draws from the posterior of a fit with a prior.

    draws_per_round : drawn and weighted in each round; more give a larger effective sample; normal : whether the
    posterior is taken as the Gaussian at the mode.
    Raises FitError for a maximum-likelihood fit, which has no posterior.
    """
    objective = fit.objective
    if objective.prior is None:
        raise FitError("a maximum-likelihood fit has no posterior; fit with a prior")
    mode = fit.maximum.point.working
    if normal:
        return normal_posterior(fit, rng.standard_normal((count, mode.size)))
    factor = inverse_cholesky(-fit.maximum.hessian)
    first = nested_proposal(objective, mode) if objective.layout.pooled else MultivariateT(mode, factor)
    tail = unit_sd_tail(objective, mode) if objective.layout.has_units else None
    return _importance_resampled(
        objective, first, count=count, rng=rng, draws_per_round=draws_per_round, prior=objective.prior, tail=tail
    )


def normal_posterior(fit: PointFit, standard: Floats) -> Posterior:
    """The Gaussian at the mode, made of standard normal numbers (S, size)."""
    mode = fit.maximum.point.working
    draws = mode + standard @ inverse_cholesky(-fit.maximum.hessian).T
    _straighten_first_threshold(fit.objective, mode, draws)
    return Posterior(draws, "gaussian at the mode", None, None, 0, True)


def _straighten_first_threshold(objective: Objective, mode: Floats, draws: Floats) -> None:
    """Make the lowest threshold that ratings bound normal, in place, where it is not the first.

    Where levels are merged, only the sum of the first threshold and the gaps below it is known. The gaps are drawn as
    logs, and the normal in these does not follow the ridge of equal sums: it would put that threshold too high.
    """
    ratings, layout = objective.likelihood.ratings, objective.layout
    ends = (ratings.low[ratings.low > 1] - 2, ratings.high[ratings.high < ratings.levels] - 1)
    bounded = np.concatenate(ends)
    below = slice(layout.gaps.start, layout.gaps.start + (int(bounded.min()) if bounded.size else 0))
    gaps, moved = np.exp(mode[below]), draws[:, below] - mode[below]
    draws[:, 0] += np.sum(gaps * (1.0 + moved - np.exp(moved)), axis=1)


def _importance_resampled(
    objective: Objective,
    first: Proposal,
    *,
    count: int,
    rng: np.random.Generator,
    prior: Prior,
    draws_per_round: int = DRAWS_PER_ROUND,
    tail: Proposal | None = None,
) -> Posterior:
    new = [(first, 1.0)] if tail is None else [(first, 1.0 - TAIL_SHARE), (tail, TAIL_SHARE)]
    used: list[Proposal] = []
    numbers: list[int] = []
    draws = np.empty((0, objective.layout.size))
    target = np.empty(0)
    rounds = 0
    while True:
        rounds += 1
        for proposal, share in new:
            drawn = proposal.draw(round(share * draws_per_round), rng)
            draws = np.vstack((draws, drawn))
            target = np.append(target, objective.log_density(drawn))
            used.append(proposal)
            numbers.append(drawn.shape[0])
        shares = np.log(np.array(numbers) / sum(numbers))[:, None]
        mixture = logsumexp(shares + [proposal.log_density(draws) for proposal in used], axis=0)
        smoothed = pareto_smoothed(np.where(np.isfinite(target), target, -np.inf) - mixture)
        if _reached_goals(smoothed) or rounds == MOST_ROUNDS:
            break
        new = refitted_proposals(draws, smoothed.weights, prior=prior)
    chosen = rng.permutation(systematic(smoothed.weights, count, rng=rng))
    return Posterior(
        draws[chosen],
        "importance resampling",
        smoothed.shape,
        smoothed.effective_sample_size,
        rounds,
        _reached_goals(smoothed),
        target[chosen],
    )


def _reached_goals(smoothed: SmoothedWeights) -> bool:
    enough = smoothed.effective_sample_size >= LEAST_EFFECTIVE_DRAWS
    return enough and smoothed.shape <= LARGEST_PARETO_SHAPE


def systematic(weights: Floats, count: int, *, rng: np.random.Generator) -> Integers:
    """Indices of a systematic resample, in ascending order."""
    points = (np.arange(count) + rng.uniform()) / count
    index = np.searchsorted(np.cumsum(weights), points * np.sum(weights))
    return np.minimum(index, weights.size - 1).astype(np.int64)
