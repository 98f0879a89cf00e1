"""Where draws of the posterior are proposed: a multivariate t, and one that is nested over the spreads of groups.

Spreads of pooled groups (riders, raters, sites) make a posterior that no single ellipse fits: the effects shrink as
their spread does. Given the spreads, though, everything else is close to normal, and its mass is known in closed
form. So the spreads are drawn from that approximate marginal on a grid, and the rest from a t around the conditional
(nested Laplace approximation: Rue, Martino & Chopin 2009, J. R. Stat. Soc. B 71, 319-392). The density of every
draw is known exactly, so importance weights put the rest right.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from scipy.special import gammaln

from draincurve.pipeline.fitting.objective import Objective
from draincurve.pipeline.fitting.parameters import ParameterLayout
from draincurve.pipeline.fitting.prior import Prior
from draincurve.schemas.array_types import Floats

DEGREES_OF_FREEDOM = 7.0
_GRID_CELLS = 14_000
_LOWEST_SPREAD, _HIGHEST_SPREAD = 1e-3, 5.0  # in scales of the half-normal prior; the mass outside is under 0.1 %
_MATRICES_A_PIECE = 4_000_000


class Proposal(Protocol):
    """Something that draws working vectors and knows their density."""

    def draw(self, count: int, rng: np.random.Generator) -> Floats:
        """Working draws, (count, size)."""

    def log_density(self, draws: Floats) -> Floats:
        """Log density at working draws (S, size); (S,)."""


@dataclass(frozen=True)
class EllipticProposal:
    """A multivariate t: centre (size,), lower Cholesky factor of its scale matrix."""

    centre: Floats
    factor: Floats

    def draw(self, count: int, rng: np.random.Generator) -> Floats:
        """Working draws, (count, size)."""
        return self.centre + _standard_t(count, self.centre.size, rng) @ self.factor.T

    def log_density(self, draws: Floats) -> Floats:
        """Log density at working draws (S, size); (S,)."""
        scaled = np.linalg.solve(self.factor, (draws - self.centre).T)
        inside = float(np.sum(np.log(np.diag(self.factor))))
        return np.asarray(_log_t(np.sum(scaled**2, axis=0), self.centre.size) - inside)


@dataclass(frozen=True)
class NestedProposal:
    """Spreads of pooled groups from a grid, the rest from a t given the spreads.

    precision, pull : quadratic form of the log density of the rest, without the pooled effects' priors: its
    curvature (r, r) and its linear part (r,); edges : cell bounds of each group's log spread, (C + 1,) each;
    log_mass : log probability of each cell, shape (C,) * G.
    """

    layout: ParameterLayout
    precision: Floats
    pull: Floats
    edges: tuple[Floats, ...]
    log_mass: Floats

    def draw(self, count: int, rng: np.random.Generator) -> Floats:
        """Working draws, (count, size)."""
        mass = np.exp(self.log_mass.ravel())
        points = (np.arange(count) + rng.uniform()) / count
        flat = np.searchsorted(np.cumsum(mass) / mass.sum(), rng.permutation(points))
        cells = np.unravel_index(np.minimum(flat, mass.size - 1), self.log_mass.shape)
        log_spreads = np.column_stack(
            [
                edge[at] + rng.uniform(size=count) * (edge[1] - edge[0])
                for edge, at in zip(self.edges, cells, strict=True)
            ]
        )
        standard = _standard_t(count, self.pull.size, rng)
        rest = np.empty_like(standard)
        for part in self._pieces(count):
            mean, factor = self._conditional(log_spreads[part])
            rest[part] = mean + np.linalg.solve(factor.transpose(0, 2, 1), standard[part, :, None])[..., 0]
        return self._joined(rest, log_spreads)

    def log_density(self, draws: Floats) -> Floats:
        """Log density at working draws (S, size); (S,)."""
        rest, log_spreads = self._parted(draws)
        result = np.empty(draws.shape[0])
        for part in self._pieces(draws.shape[0]):
            mean, factor = self._conditional(log_spreads[part])
            scaled = np.einsum("sji,sj->si", factor, rest[part] - mean)
            inside = np.sum(np.log(np.diagonal(factor, axis1=1, axis2=2)), axis=1)
            result[part] = _log_t(np.sum(scaled**2, axis=1), self.pull.size) + inside
        stretch = sum(len(group) * log_spreads[:, g] for g, group in enumerate(self.layout.pooled))
        return result + stretch + self._log_marginal(log_spreads)

    def _conditional(self, log_spreads: Floats) -> tuple[Floats, Floats]:
        """Means (S, r) and lower Cholesky factors of the precision (S, r, r) given log spreads (S, G)."""
        matrix = np.tile(self.precision, (log_spreads.shape[0], 1, 1))
        for g, group in enumerate(self.layout.pooled):
            at = self.layout.levels - 1 + np.array(group)
            matrix[:, at, at] += np.exp(-2.0 * log_spreads[:, [g]])
        mean = np.linalg.solve(matrix, np.tile(self.pull[:, None], (matrix.shape[0], 1, 1)))[..., 0]
        return np.asarray(mean, dtype=np.float64), np.asarray(np.linalg.cholesky(matrix), dtype=np.float64)

    def _log_marginal(self, log_spreads: Floats) -> Floats:
        """Log density of log spreads (S, G) on the grid; -inf outside."""
        cells, inside = [], np.ones(log_spreads.shape[0], dtype=bool)
        volume = 0.0
        for g, edge in enumerate(self.edges):
            width = edge[1] - edge[0]
            at = np.floor((log_spreads[:, g] - edge[0]) / width).astype(int)
            inside &= (at >= 0) & (at < edge.size - 1)
            cells.append(np.clip(at, 0, edge.size - 2))
            volume += float(np.log(width))
        return np.where(inside, self.log_mass[tuple(cells)] - volume, -np.inf)

    def _parted(self, draws: Floats) -> tuple[Floats, Floats]:
        """The rest with pooled effects unscaled, (S, r), and the log spreads (S, G)."""
        log_spreads = draws[:, self.layout.group_log_sds]
        rest = np.delete(draws, self.layout.group_log_sds, axis=1)
        for g, group in enumerate(self.layout.pooled):
            rest[:, self.layout.levels - 1 + np.array(group)] *= np.exp(log_spreads[:, [g]])
        return rest, log_spreads

    def _joined(self, rest: Floats, log_spreads: Floats) -> Floats:
        """Working draws of the rest (unscaled) and the log spreads."""
        scaled = rest.copy()
        for g, group in enumerate(self.layout.pooled):
            scaled[:, self.layout.levels - 1 + np.array(group)] *= np.exp(-log_spreads[:, [g]])
        at = self.layout.group_log_sds.start
        return np.hstack((scaled[:, :at], log_spreads, scaled[:, at:]))

    def _pieces(self, count: int) -> list[slice]:
        piece = max(1, _MATRICES_A_PIECE // self.precision.size)
        return [slice(begin, begin + piece) for begin in range(0, count, piece)]


def nested_proposal(objective: Objective, mode: Floats, hold_units: bool = False) -> NestedProposal:
    """The nested proposal around a posterior's mode; the objective must have a prior and pooled groups.

    hold_units : leave out the spread between units, the last working parameter, which stays as in `mode`.
    """
    layout, prior = objective.layout, objective.prior
    assert prior is not None, "only a posterior is sampled"
    keep = np.delete(np.arange(layout.size), layout.group_log_sds)
    flat_sd = prior.sd.copy()
    place = mode.copy()
    for g, group in enumerate(layout.pooled):
        at = layout.levels - 1 + np.array(group)
        flat_sd[at] = np.inf
        place[at] *= np.exp(mode[layout.group_log_sds.start + g])
    plain = Objective(
        objective.likelihood,
        replace(layout, pooled=()),
        Prior(prior.mean[keep], flat_sd[keep], prior.half_normal[keep]),
    )
    rest = place[keep]
    point = plain.evaluate(rest)
    hessian, gradient = plain.hessian(point), point.gradient
    if hold_units:
        layout, rest, hessian, gradient = (
            replace(layout, has_units=False),
            rest[:-1],
            hessian[:-1, :-1],
            gradient[:-1],
        )
    precision = _positive_definite(-hessian)
    pull = precision @ rest + gradient
    edges = tuple(_edges(scale, len(layout.pooled)) for scale in prior.half_normal[layout.group_log_sds])
    return NestedProposal(layout, precision, pull, edges, _grid_mass(layout, prior, precision, pull, edges))


def inverse_factor(information: Floats) -> Floats:
    """Lower factor of the inverse information, with directions that the data and prior leave open held finite."""
    eigenvalues, vectors = np.linalg.eigh(information)
    root = vectors / np.sqrt(np.maximum(eigenvalues, 1e-4))
    return np.asarray(np.linalg.cholesky(root @ root.T))


def _edges(scale: float, groups: int) -> Floats:
    cells = min(60, int(_GRID_CELLS ** (1.0 / groups)))
    return np.linspace(np.log(_LOWEST_SPREAD * scale), np.log(_HIGHEST_SPREAD * scale), cells + 1)


def _grid_mass(
    layout: ParameterLayout, prior: Prior, precision: Floats, pull: Floats, edges: tuple[Floats, ...]
) -> Floats:
    """Normalised log mass of every cell: the prior of the spreads times the normal integral over all the rest."""
    pooled = np.concatenate([layout.levels - 1 + np.array(group) for group in layout.pooled])
    owner = np.concatenate([np.full(len(group), g) for g, group in enumerate(layout.pooled)])
    other = np.setdiff1d(np.arange(pull.size), pooled)
    gain = np.linalg.solve(precision[np.ix_(other, other)], precision[np.ix_(other, pooled)])
    inner = precision[np.ix_(pooled, pooled)] - precision[np.ix_(pooled, other)] @ gain
    inner_pull = pull[pooled] - gain.T @ pull[other]
    middles = np.meshgrid(*[(edge[1:] + edge[:-1]) / 2 for edge in edges], indexing="ij")
    log_spreads = np.column_stack([middle.ravel() for middle in middles])
    log_mass = np.empty(log_spreads.shape[0])
    piece = max(1, _MATRICES_A_PIECE // inner.size)
    diagonal = np.arange(pooled.size)
    for begin in range(0, log_mass.size, piece):
        part = slice(begin, begin + piece)
        matrix = np.tile(inner, (log_spreads[part].shape[0], 1, 1))
        matrix[:, diagonal, diagonal] += np.exp(-2.0 * log_spreads[part][:, owner])
        _, log_determinant = np.linalg.slogdet(matrix)
        mean = np.linalg.solve(matrix, np.tile(inner_pull[:, None], (matrix.shape[0], 1, 1)))[..., 0]
        log_mass[part] = 0.5 * (mean @ inner_pull - log_determinant) - log_spreads[part][:, owner].sum(axis=1)
    scale = prior.half_normal[layout.group_log_sds]
    log_mass += np.sum(log_spreads - 0.5 * np.exp(2.0 * log_spreads) / scale**2, axis=1)
    log_mass -= np.max(log_mass)
    log_mass -= np.log(np.sum(np.exp(log_mass)))
    return log_mass.reshape([edge.size - 1 for edge in edges])


def _positive_definite(matrix: Floats) -> Floats:
    """The matrix with eigenvalues lifted where the drains leave a direction open or bend it the wrong way."""
    eigenvalues, vectors = np.linalg.eigh(matrix)
    return np.asarray((vectors * np.maximum(eigenvalues, 1e-4)) @ vectors.T)


def _standard_t(count: int, size: int, rng: np.random.Generator) -> Floats:
    normal = rng.standard_normal((count, size))
    return normal * np.sqrt(DEGREES_OF_FREEDOM / rng.chisquare(DEGREES_OF_FREEDOM, count))[:, None]


def _log_t(squares: Floats, size: int) -> Floats:
    """Log density of the standard t at squared distances (S,)."""
    df = DEGREES_OF_FREEDOM
    constant = gammaln((df + size) / 2) - gammaln(df / 2) - size / 2 * np.log(df * np.pi)
    return np.asarray(constant - (df + size) / 2 * np.log1p(squares / df))
