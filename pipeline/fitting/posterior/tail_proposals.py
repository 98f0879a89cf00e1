"""Proposals for standard deviations near zero, at the start and when proposals are refitted to weighted draws.

As a standard deviation goes to zero, the likelihood no longer changes, and the posterior of its log decreases as
slowly as the prior's, like exp(log sd). A t around the mode has too little mass there, and so have its refits; few of
its draws fall there, so the Pareto shape need not show it. Therefore a share of the draws takes one log sd from the
prior, and the other parameters as where that sd is small (a defensive mixture: Hesterberg 1995, Technometrics 37,
185-194).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from draincurve.pipeline.fitting.likelihood import Likelihood
from draincurve.pipeline.fitting.newton import Point, maximise
from draincurve.pipeline.fitting.objective import Objective
from draincurve.pipeline.fitting.posterior.proposals import (
    MultivariateT,
    Proposal,
    inverse_cholesky,
    nested_proposal,
)
from draincurve.pipeline.fitting.prior import Prior
from draincurve.schemas.array_types import Floats

TAIL_SHARE = 0.1
"""Share of a round for the tail of each standard deviation; at most a third for all of them."""
SMALL_SHARE = 0.15
"""A standard deviation this share of its mode, and of its prior's scale, hardly changes the likelihood any more."""


@dataclass(frozen=True)
class TailProposal:
    """One log standard deviation from its half-normal prior, the other parameters independent of it.

    index : position of the log sd among the working parameters; scale : of the half-normal; rest : of the others
    """

    index: int
    scale: float
    rest: Proposal

    def draw(self, count: int, rng: np.random.Generator) -> Floats:
        """Working draws, (count, size)."""
        log_sd = np.log(self.scale * np.abs(rng.standard_normal(count)))
        return np.insert(self.rest.draw(count, rng), self.index, log_sd, axis=1)

    def log_density(self, draws: Floats) -> Floats:
        """Log density at working draws (S, size); (S,)."""
        log_sd = draws[:, self.index]
        square = np.exp(np.minimum(2.0 * log_sd, 700.0)) / self.scale**2
        half_normal = 0.5 * np.log(2.0 / np.pi) - np.log(self.scale) + log_sd - 0.5 * square
        return np.asarray(half_normal + self.rest.log_density(np.delete(draws, self.index, axis=1)))


def unit_sd_tail(objective: Objective, mode: Floats) -> TailProposal:
    """The tail of a small standard deviation between units, the other parameters at their mode for a small one."""
    prior, likelihood = objective.prior, objective.likelihood
    assert prior is not None, "only a posterior is sampled"
    # A copy of the likelihood, which keeps its units' modes as starts: the fit's own would change its last digits.
    copy = replace(
        objective, likelihood=Likelihood(likelihood.ratings, likelihood.link, nodes=likelihood.rule.nodes.size)
    )
    scale = float(prior.half_normal[-1])
    small = min(np.log(SMALL_SHARE * scale), mode[-1] + np.log(SMALL_SHARE))

    def evaluate(rest: Floats) -> Point:
        point = copy.evaluate(np.append(rest, small))
        return Point(rest, point.value, point.gradient[:-1], point.natural_gradient)

    def hessian(point: Point) -> Floats:
        whole = Point(np.append(point.working, small), point.value, point.gradient, point.natural_gradient)
        return copy.hessian(whole)[:-1, :-1]

    maximum = maximise(evaluate, hessian, start=mode[:-1])
    centre = maximum.point.working
    if objective.layout.pooled:
        rest: Proposal = nested_proposal(copy, np.append(centre, small), fix_unit_sd=True)
    else:
        rest = MultivariateT(centre, inverse_cholesky(-maximum.hessian))
    return TailProposal(mode.size - 1, scale, rest)


def refitted_proposals(draws: Floats, weights: Floats, *, prior: Prior) -> list[tuple[Proposal, float]]:
    """Proposals for the next round with their shares of it: a refitted t, and a tail for each sd of the prior."""
    sds = np.flatnonzero(prior.is_half_normal)
    share = min(TAIL_SHARE, 1.0 / (3.0 * max(sds.size, 1)))
    proposals: list[tuple[Proposal, float]] = [(refitted_t(draws, weights), 1.0 - share * sds.size)]
    for index in sds:
        low = draws[:, index] <= _weighted_median(draws[:, index], weights)
        low_weights = np.where(low, weights, 0.0)
        rest = refitted_t(np.delete(draws, index, axis=1), low_weights / low_weights.sum())
        proposals.append((TailProposal(int(index), float(prior.half_normal[index]), rest), share))
    return proposals


def refitted_t(draws: Floats, weights: Floats) -> MultivariateT:
    """A t with the weighted mean and covariance, the latter shrunk to its diagonal where draws are few."""
    centre = weights @ draws
    centred = draws - centre
    covariance = (centred * weights[:, None]).T @ centred
    size = centre.size
    shrink = size / (size + 1.0 / np.sum(weights**2))
    covariance = (1.0 - shrink) * covariance + shrink * np.diag(np.diag(covariance))
    factor = np.linalg.cholesky(covariance + 1e-10 * np.eye(size))
    return MultivariateT(centre, np.asarray(factor, dtype=np.float64))


def _weighted_median(values: Floats, weights: Floats) -> float:
    order = np.argsort(values, kind="stable")
    position = np.searchsorted(np.cumsum(weights[order]), 0.5 * np.sum(weights))
    return float(values[order[min(int(position), values.size - 1)]])
