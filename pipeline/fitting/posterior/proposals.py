"""Proposals for importance sampling: a multivariate t, and one nested over the standard deviations of pooled groups.

Standard deviations of pooled groups (riders, raters, sites) give a posterior that no single ellipse approximates: the
effects shrink with their standard deviation. Given these, however, the other parameters are close to normal, and
their integral has a closed form. So the standard deviations are drawn from that approximate marginal on a grid, and
the others from a t around their conditional mean (nested Laplace approximation: Rue, Martino & Chopin 2009, J. R.
Stat. Soc. B 71, 319-392). The density of every draw is known exactly, so importance weights correct the
approximation.
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
_LOWEST_SD, _HIGHEST_SD = 1e-3, 5.0  # in units of the half-normal's scale; the mass outside is under 0.1 %
_CHUNK_NUMBERS = 4_000_000


class Proposal(Protocol):
    """A distribution over working parameters that can be sampled and evaluated."""

    def draw(self, count: int, rng: np.random.Generator) -> Floats:
        """Working draws, (count, size)."""

    def log_density(self, draws: Floats) -> Floats:
        """Log density at working draws (S, size); (S,)."""


@dataclass(frozen=True)
class MultivariateT:
    """A multivariate t: centre (size,), lower Cholesky factor of its scale matrix."""

    centre: Floats
    factor: Floats

    def draw(self, count: int, rng: np.random.Generator) -> Floats:
        """Working draws, (count, size)."""
        return self.centre + _standard_t(count, self.centre.size, rng=rng) @ self.factor.T

    def log_density(self, draws: Floats) -> Floats:
        """Log density at working draws (S, size); (S,)."""
        scaled = np.linalg.solve(self.factor, (draws - self.centre).T)
        inside = float(np.sum(np.log(np.diag(self.factor))))
        return np.asarray(_log_t(np.sum(scaled**2, axis=0), self.centre.size) - inside)


@dataclass(frozen=True)
class NestedProposal:
    """Log standard deviations of pooled groups from a grid, the other parameters from a t given these.

    precision, linear : quadratic approximation of the log density of the other parameters, without the priors of the
    pooled effects: negative curvature (r, r) and linear term (r,); edges : bounds of the grid's cells in each group's
    log sd, (C + 1,) each; log_mass : log probability of each cell, shape (C,) * G
    """

    layout: ParameterLayout
    precision: Floats
    linear: Floats
    edges: tuple[Floats, ...]
    log_mass: Floats

    def draw(self, count: int, rng: np.random.Generator) -> Floats:
        """Working draws, (count, size)."""
        mass = np.exp(self.log_mass.ravel())
        points = (np.arange(count) + rng.uniform()) / count
        flat = np.searchsorted(np.cumsum(mass) / mass.sum(), rng.permutation(points))
        cells = np.unravel_index(np.minimum(flat, mass.size - 1), self.log_mass.shape)
        log_sds = np.column_stack(
            [
                edge[cell] + rng.uniform(size=count) * (edge[1] - edge[0])
                for edge, cell in zip(self.edges, cells, strict=True)
            ]
        )
        standard = _standard_t(count, self.linear.size, rng=rng)
        rest = np.empty_like(standard)
        for part in self._chunks(count):
            mean, factor = self._conditional(log_sds[part])
            rest[part] = mean + np.linalg.solve(factor.transpose(0, 2, 1), standard[part, :, None])[..., 0]
        return self._joined(rest, log_sds)

    def log_density(self, draws: Floats) -> Floats:
        """Log density at working draws (S, size); (S,)."""
        rest, log_sds = self._parted(draws)
        result = np.empty(draws.shape[0])
        for part in self._chunks(draws.shape[0]):
            mean, factor = self._conditional(log_sds[part])
            scaled = np.einsum("sji,sj->si", factor, rest[part] - mean)
            inside = np.sum(np.log(np.diagonal(factor, axis1=1, axis2=2)), axis=1)
            result[part] = _log_t(np.sum(scaled**2, axis=1), self.linear.size) + inside
        stretch = sum(len(group) * log_sds[:, g] for g, group in enumerate(self.layout.pooled))
        return result + stretch + self._log_marginal(log_sds)

    def _conditional(self, log_sds: Floats) -> tuple[Floats, Floats]:
        """Means (S, r) and lower Cholesky factors of the precision (S, r, r) given log sds (S, G)."""
        matrix = np.tile(self.precision, (log_sds.shape[0], 1, 1))
        for g, columns in enumerate(self.layout.pooled_coefficients):
            matrix[:, columns, columns] += np.exp(-2.0 * log_sds[:, [g]])
        mean = np.linalg.solve(matrix, np.tile(self.linear[:, None], (matrix.shape[0], 1, 1)))[..., 0]
        return np.asarray(mean, dtype=np.float64), np.asarray(np.linalg.cholesky(matrix), dtype=np.float64)

    def _log_marginal(self, log_sds: Floats) -> Floats:
        """Log density of log sds (S, G) on the grid; -inf outside."""
        cells, inside = [], np.ones(log_sds.shape[0], dtype=bool)
        volume = 0.0
        for g, edge in enumerate(self.edges):
            width = edge[1] - edge[0]
            cell = np.floor((log_sds[:, g] - edge[0]) / width).astype(int)
            inside &= (cell >= 0) & (cell < edge.size - 1)
            cells.append(np.clip(cell, 0, edge.size - 2))
            volume += float(np.log(width))
        return np.where(inside, self.log_mass[tuple(cells)] - volume, -np.inf)

    def _parted(self, draws: Floats) -> tuple[Floats, Floats]:
        """The other parameters with natural pooled effects, (S, r), and the log sds (S, G)."""
        log_sds = draws[:, self.layout.group_log_sds]
        rest = np.delete(draws, self.layout.group_log_sds, axis=1)
        for g, group in enumerate(self.layout.pooled_coefficients):
            rest[:, group] *= np.exp(log_sds[:, [g]])
        return rest, log_sds

    def _joined(self, rest: Floats, log_sds: Floats) -> Floats:
        """Working draws from the other parameters with natural pooled effects, and the log sds."""
        scaled = rest.copy()
        for g, group in enumerate(self.layout.pooled_coefficients):
            scaled[:, group] *= np.exp(-log_sds[:, [g]])
        first_sd = self.layout.group_log_sds.start
        return np.hstack((scaled[:, :first_sd], log_sds, scaled[:, first_sd:]))

    def _chunks(self, count: int) -> list[slice]:
        chunk = max(1, _CHUNK_NUMBERS // self.precision.size)
        return [slice(begin, begin + chunk) for begin in range(0, count, chunk)]


def nested_proposal(objective: Objective, mode: Floats, *, fix_unit_sd: bool = False) -> NestedProposal:
    """The nested proposal around a posterior's mode; the objective must have a prior and pooled groups.

    fix_unit_sd : leave out the sd between units, the last working parameter, which stays as in `mode`
    """
    layout, prior = objective.layout, objective.prior
    assert prior is not None, "only a posterior is sampled"
    keep = np.delete(np.arange(layout.size), layout.group_log_sds)
    flat_sd = prior.sd.copy()
    natural_mode = mode.copy()
    for g, columns in enumerate(layout.pooled_coefficients):
        flat_sd[columns] = np.inf
        natural_mode[columns] *= np.exp(mode[layout.group_log_sds.start + g])
    plain = Objective(
        objective.likelihood,
        replace(layout, pooled=()),
        Prior(prior.mean[keep], flat_sd[keep], prior.half_normal[keep]),
    )
    rest = natural_mode[keep]
    point = plain.evaluate(rest)
    hessian, gradient = plain.hessian(point), point.gradient
    if fix_unit_sd:
        layout, rest, hessian, gradient = (
            replace(layout, has_units=False),
            rest[:-1],
            hessian[:-1, :-1],
            gradient[:-1],
        )
    precision = _positive_definite(-hessian)
    linear = precision @ rest + gradient
    edges = tuple(_edges(scale, len(layout.pooled)) for scale in prior.half_normal[layout.group_log_sds])
    return NestedProposal(
        layout, precision, linear, edges, _grid_mass(layout, prior, precision=precision, linear=linear, edges=edges)
    )


def inverse_cholesky(information: Floats) -> Floats:
    """Lower Cholesky factor of the inverse information; the variance of undetermined directions is kept finite."""
    eigenvalues, vectors = np.linalg.eigh(information)
    root = vectors / np.sqrt(np.maximum(eigenvalues, 1e-4))
    return np.asarray(np.linalg.cholesky(root @ root.T))


def _edges(scale: float, groups: int) -> Floats:
    cells = min(60, int(_GRID_CELLS ** (1.0 / groups)))
    return np.linspace(np.log(_LOWEST_SD * scale), np.log(_HIGHEST_SD * scale), cells + 1)


def _grid_mass(
    layout: ParameterLayout, prior: Prior, *, precision: Floats, linear: Floats, edges: tuple[Floats, ...]
) -> Floats:
    """Normalised log mass of every cell: the prior of the sds times the normal integral over the other parameters."""
    pooled = np.concatenate(layout.pooled_coefficients)
    owner = np.concatenate([np.full(len(group), g) for g, group in enumerate(layout.pooled)])
    other = np.setdiff1d(np.arange(linear.size), pooled)
    gain = np.linalg.solve(precision[np.ix_(other, other)], precision[np.ix_(other, pooled)])
    inner = precision[np.ix_(pooled, pooled)] - precision[np.ix_(pooled, other)] @ gain
    inner_linear = linear[pooled] - gain.T @ linear[other]
    middles = np.meshgrid(*[(edge[1:] + edge[:-1]) / 2 for edge in edges], indexing="ij")
    log_sds = np.column_stack([middle.ravel() for middle in middles])
    log_mass = np.empty(log_sds.shape[0])
    chunk = max(1, _CHUNK_NUMBERS // inner.size)
    diagonal = np.arange(pooled.size)
    for begin in range(0, log_mass.size, chunk):
        part = slice(begin, begin + chunk)
        matrix = np.tile(inner, (log_sds[part].shape[0], 1, 1))
        matrix[:, diagonal, diagonal] += np.exp(-2.0 * log_sds[part][:, owner])
        _, log_determinant = np.linalg.slogdet(matrix)
        mean = np.linalg.solve(matrix, np.tile(inner_linear[:, None], (matrix.shape[0], 1, 1)))[..., 0]
        log_mass[part] = 0.5 * (mean @ inner_linear - log_determinant) - log_sds[part][:, owner].sum(axis=1)
    scale = prior.half_normal[layout.group_log_sds]
    log_mass += np.sum(log_sds - 0.5 * np.exp(2.0 * log_sds) / scale**2, axis=1)
    log_mass -= np.max(log_mass)
    log_mass -= np.log(np.sum(np.exp(log_mass)))
    return log_mass.reshape([edge.size - 1 for edge in edges])


def _positive_definite(matrix: Floats) -> Floats:
    """The matrix with its smallest eigenvalues raised, where data leave a direction undetermined."""
    eigenvalues, vectors = np.linalg.eigh(matrix)
    return np.asarray((vectors * np.maximum(eigenvalues, 1e-4)) @ vectors.T)


def _standard_t(count: int, size: int, *, rng: np.random.Generator) -> Floats:
    normal = rng.standard_normal((count, size))
    return normal * np.sqrt(DEGREES_OF_FREEDOM / rng.chisquare(DEGREES_OF_FREEDOM, count))[:, None]


def _log_t(squares: Floats, size: int) -> Floats:
    """Log density of the standard t at squared distances (S,)."""
    df = DEGREES_OF_FREEDOM
    constant = gammaln((df + size) / 2) - gammaln(df / 2) - size / 2 * np.log(df * np.pi)
    return np.asarray(constant - (df + size) / 2 * np.log1p(squares / df))
