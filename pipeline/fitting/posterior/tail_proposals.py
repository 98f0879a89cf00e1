"""Proposals that keep the tails of small spreads, from the start and when proposals are refitted to weighted draws.

As a spread goes to zero the likelihood no longer changes and the posterior of its log falls off like the prior's, as
slowly as exp(log spread). A t about the mode has too little there, and so have its refits; few of its draws fall
there, so the Pareto shape need not tell. So a share of draws takes its log spread from the prior, the rest as where
that spread is small (a defensive mixture: Hesterberg 1995, Technometrics 37, 185-194).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from draincurve.pipeline.fitting.likelihood import Likelihood
from draincurve.pipeline.fitting.newton import Point, maximise
from draincurve.pipeline.fitting.objective import Objective
from draincurve.pipeline.fitting.posterior.pareto_smoothing import SmoothedWeights
from draincurve.pipeline.fitting.posterior.proposals import (
    EllipticProposal,
    Proposal,
    inverse_factor,
    nested_proposal,
)
from draincurve.pipeline.fitting.prior import Prior
from draincurve.schemas.array_types import Floats

TAIL_SHARE = 0.1
"""Share of a round for the tail of each spread; of all spreads together at most a third."""
SMALL_SHARE = 0.15
"""A spread this share of its mode, and of its prior's scale, hardly changes the likelihood any more."""


@dataclass(frozen=True)
class TailProposal:
    """One log spread from its half-normal prior, all else from a t apart from it.

    place : of the log spread among the working parameters; scale : of the half-normal; rest : over the others.
    """

    place: int
    scale: float
    rest: Proposal

    def draw(self, count: int, rng: np.random.Generator) -> Floats:
        """Working draws, (count, size)."""
        log_spread = np.log(self.scale * np.abs(rng.standard_normal(count)))
        return np.insert(self.rest.draw(count, rng), self.place, log_spread, axis=1)

    def log_density(self, draws: Floats) -> Floats:
        """Log density at working draws (S, size); (S,)."""
        at = draws[:, self.place]
        square = np.exp(np.minimum(2.0 * at, 700.0)) / self.scale**2
        own = 0.5 * np.log(2.0 / np.pi) - np.log(self.scale) + at - 0.5 * square
        return np.asarray(own + self.rest.log_density(np.delete(draws, self.place, axis=1)))


def units_tail(objective: Objective, mode: Floats) -> TailProposal:
    """The tail of a small spread between units, all else about its mode where units hardly differ."""
    prior, likelihood = objective.prior, objective.likelihood
    assert prior is not None, "only a posterior is sampled"
    # A likelihood of its own, since it keeps its units' modes as starts: the last digits of the fit's must not move.
    apart = replace(objective, likelihood=Likelihood(likelihood.ratings, likelihood.link, likelihood.rule.nodes.size))
    scale = float(prior.half_normal[-1])
    held = min(np.log(SMALL_SHARE * scale), mode[-1] + np.log(SMALL_SHARE))

    def evaluate(rest: Floats) -> Point:
        point = apart.evaluate(np.append(rest, held))
        return Point(rest, point.value, point.gradient[:-1], point.natural_gradient)

    def hessian(point: Point) -> Floats:
        whole = Point(np.append(point.working, held), point.value, point.gradient, point.natural_gradient)
        return apart.hessian(whole)[:-1, :-1]

    maximum = maximise(evaluate, hessian, start=mode[:-1])
    centre = maximum.point.working
    if objective.layout.pooled:
        rest: Proposal = nested_proposal(apart, np.append(centre, held), hold_units=True)
    else:
        rest = EllipticProposal(centre, inverse_factor(-maximum.hessian))
    return TailProposal(mode.size - 1, scale, rest)


def refitted(draws: Floats, smoothed: SmoothedWeights, prior: Prior | None) -> list[tuple[Proposal, float]]:
    """Proposals for the next round with their shares of it: a refitted t, and a tail for each spread of the prior."""
    spreads = np.flatnonzero(~np.isnan(prior.half_normal)) if prior is not None else np.empty(0, dtype=np.int64)
    share = min(TAIL_SHARE, 1.0 / (3.0 * max(spreads.size, 1)))
    found: list[tuple[Proposal, float]] = [
        (_elliptic(draws, smoothed.weights), 1.0 - share * spreads.size),
    ]
    for place in spreads:
        assert prior is not None, "spreads come from the prior"
        low = draws[:, place] <= _weighted_median(draws[:, place], smoothed.weights)
        weights = np.where(low, smoothed.weights, 0.0)
        rest = _elliptic(np.delete(draws, place, axis=1), weights / weights.sum())
        found.append((TailProposal(int(place), float(prior.half_normal[place]), rest), share))
    return found


def _elliptic(draws: Floats, weights: Floats) -> EllipticProposal:
    """A t with the weighted mean and covariance, shrunk to its diagonal where draws are few."""
    centre = weights @ draws
    centred = draws - centre
    covariance = (centred * weights[:, None]).T @ centred
    size = centre.size
    shrink = size / (size + 1.0 / np.sum(weights**2))
    covariance = (1.0 - shrink) * covariance + shrink * np.diag(np.diag(covariance))
    factor = np.linalg.cholesky(covariance + 1e-10 * np.eye(size))
    return EllipticProposal(centre, np.asarray(factor, dtype=np.float64))


def _weighted_median(values: Floats, weights: Floats) -> float:
    order = np.argsort(values, kind="stable")
    at = np.searchsorted(np.cumsum(weights[order]), 0.5 * np.sum(weights))
    return float(values[order[min(int(at), values.size - 1)]])
