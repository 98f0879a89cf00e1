"""Marginal likelihood of lines with unit effects where some readings are only known to be under or over a bound.

    y_ij = (b0 + u0_i) + (b1 + u1_i) x_ij + e_ij     u_i = s L z_i     z_i ~ N(0, I)     e_ij ~ N(0, s2)

A measured reading adds its density, one under a bound the probability of being under it, one over a bound that of
being over it: nothing is put in the bound's place. A unit without bounds has a closed form; for the others z is
integrated out by adaptive Gauss-Hermite quadrature about the mode, which is unique, since every factor is
log-concave. References, from memory: Tobin (1958), Econometrica 26, 24-36; with unit effects, Hughes (1999),
Biometrics 55, 625-629.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr, logsumexp

from draincurve.pipeline.fitting.degradation.profile_likelihood import unit_terms
from draincurve.pipeline.fitting.degradation.sums_of_units import UnitSums, unit_sums
from draincurve.schemas.array_types import Floats

NODES, NODES_OF_DRAWS = 7, 5
"""Quadrature nodes in each of the two dimensions, for one point and for many."""
STEPS = 40
LONGEST_STEP = 3.0
NUMBERS_AT_ONCE = 1_000_000
LOG_2PI = float(np.log(2.0 * np.pi))


@dataclass(frozen=True, slots=True)
class CensoredReadings:
    """Readings sorted by unit, on the scale of `sums`, which takes bounds at face value.

    x, y : (n,); side : (n,), -1 under the bound y, 0 measured, 1 over it; first : (units,), first reading of each
    """

    sums: UnitSums
    x: Floats
    y: Floats
    side: NDArray[np.integer]
    first: NDArray[np.integer]

    @property
    def counts(self) -> NDArray[np.integer]:
        """Readings of each unit."""
        return np.diff(np.append(self.first, self.x.size))

    @property
    def has_bounds(self) -> NDArray[np.bool_]:
        """Whether a unit has a reading that is only known to be under or over a bound."""
        return np.add.reduceat(np.abs(self.side), self.first) > 0

    def of_units(self, kept: NDArray[np.bool_]) -> CensoredReadings:
        """The readings of some units, on the same scale; kept : (units,)."""
        rows = np.repeat(kept, self.counts)
        fields = ("readings", "x", "xx", "y", "xy", "yy", "centred_xx", "centred_xy")
        sums = replace(self.sums, **{name: getattr(self.sums, name)[kept] for name in fields})
        first = np.append(0, np.cumsum(self.counts[kept]))[:-1].astype(np.int64)
        return CensoredReadings(sums, self.x[rows], self.y[rows], self.side[rows], first)


def censored_readings(
    response: Floats, clock: Floats, *, unit: NDArray[np.integer], side: NDArray[np.integer]
) -> CensoredReadings:
    """Readings in any order; unit : (n,), numbers from 0, each in use."""
    sums = unit_sums(unit, clock=clock, response=response)
    order = np.argsort(unit, kind="stable")
    first = np.searchsorted(unit[order], np.arange(sums.units)).astype(np.int64)
    x, y = (clock - sums.clock_shift) / sums.clock_scale, (response - sums.response_shift) / sums.response_scale
    return CensoredReadings(sums, x[order], y[order], side[order], first)


def log_likelihoods(readings: CensoredReadings, points: Floats) -> Floats:
    """Log likelihood at points (S, 6): b0, b1, log s, L00, L10, L11; (S,). In the units of the scaled readings."""
    bounded = readings.has_bounds
    total = np.zeros(points.shape[0])
    if not bounded.all():
        total += _closed_form(readings.of_units(~bounded).sums, points)
    if bounded.any():
        part = readings.of_units(bounded)
        nodes_in_one = NODES if points.shape[0] == 1 else NODES_OF_DRAWS
        piece = max(1, NUMBERS_AT_ONCE // part.x.size)
        for start in range(0, points.shape[0], piece):
            total[start : start + piece] += _quadrature(part, points[start : start + piece], nodes_in_one)[0].sum(
                axis=1
            )
    return total


def unit_posteriors(readings: CensoredReadings, point: Floats) -> tuple[Floats, Floats]:
    """Mean (units, 2) and covariance (units, 2, 2) of each unit's z given its readings, at one point (6,)."""
    _, z, weights = _quadrature(readings, point[None, :], NODES)
    mean = np.einsum("ku,kui->ui", weights[:, 0], z[:, 0])
    away = z[:, 0] - mean
    return mean, np.einsum("ku,kui,kuj->uij", weights[:, 0], away, away)


def value_and_gradient(readings: CensoredReadings, point: Floats) -> tuple[float, Floats]:
    """Log likelihood at one point (6,), and its derivatives (6,) by Fisher's identity."""
    log_unit, z, weights = _quadrature(readings, point[None, :], NODES)
    scores = weights @ _scores(readings, point, z[:, 0])
    return float(log_unit.sum()), scores[:, 0].sum(axis=0)


def _closed_form(sums: UnitSums, points: Floats) -> Floats:
    """Log likelihood of units without bounds."""
    precision, cross, square, log_det = unit_terms(sums, points[:, 3:].T[:, :, None])
    b0, b1, log_s = points[:, 0], points[:, 1], points[:, 2]
    p00, p01, p11 = (part.sum(axis=1) for part in precision)
    r0, r1 = (part.sum(axis=1) for part in cross)
    about = square.sum(axis=1) - 2.0 * (b0 * r0 + b1 * r1) + b0 * b0 * p00 + 2.0 * b0 * b1 * p01 + b1 * b1 * p11
    rows = float(sums.readings.sum())
    return np.asarray(-0.5 * (rows * (LOG_2PI + 2.0 * log_s) + log_det.sum(axis=1) + about * np.exp(-2.0 * log_s)))


def _quadrature(readings: CensoredReadings, points: Floats, nodes_in_one: int) -> tuple[Floats, Floats, Floats]:
    """Log likelihood of each unit (S, units), its nodes (nodes, S, units, 2) and their weights (nodes, S, units)."""
    free = _Deviations.at(readings, points)
    mode, root = _modes(readings, free)
    nodes_1d, weight = np.polynomial.hermite.hermgauss(nodes_in_one)
    pairs = np.array([(first, second) for first in nodes_1d for second in nodes_1d])
    log_weight = np.log([first * second for first in weight for second in weight]) + np.square(pairs).sum(axis=1)
    nodes = mode + np.sqrt(2.0) * np.einsum("suij,kj->ksui", root, pairs)
    if points.shape[0] == 1:  # all nodes at once: many small steps would cost more than the arithmetic
        joint = _log_joint(readings, free, nodes[:, 0])[:, None]
    else:
        joint = np.array([_log_joint(readings, free, node) for node in nodes])
    heights = joint + log_weight[:, None, None]
    log_unit = logsumexp(heights, axis=0)
    scale = np.log(2.0 * np.abs(root[..., 0, 0] * root[..., 1, 1]))
    return log_unit + scale, nodes, np.exp(heights - log_unit)


@dataclass(frozen=True, slots=True)
class _Deviations:
    """Deviations from the unit's line over s: base - along0 z0 - along1 z1, (S, n) each; log_s : (S, 1)."""

    base: Floats
    along0: Floats
    along1: Floats
    log_s: Floats

    @classmethod
    def at(cls, readings: CensoredReadings, points: Floats) -> _Deviations:
        b0, b1, log_s, l00, l10, l11 = (column[:, None] for column in points.T)
        base = (readings.y - b0 - b1 * readings.x) * np.exp(-log_s)
        return cls(base, l00 + l10 * readings.x, l11 * readings.x, log_s)

    def of(self, readings: CensoredReadings, z: Floats) -> Floats:
        """The deviations given z (S, units, 2)."""
        each = np.repeat(z, readings.counts, axis=1)
        return np.asarray(self.base - self.along0 * each[..., 0] - self.along1 * each[..., 1])


def _by_unit(readings: CensoredReadings, values: Floats) -> Floats:
    return np.asarray(np.add.reduceat(values, readings.first, axis=1))


def _log_joint(readings: CensoredReadings, free: _Deviations, z: Floats) -> Floats:
    """Log density of each unit's readings and z (S, units, 2), (S, units); z of one point may have any S."""
    deviation = free.of(readings, z)
    logs = -0.5 * np.square(deviation) - free.log_s - 0.5 * LOG_2PI
    bounded = readings.side != 0
    logs[:, bounded] = log_ndtr(-readings.side[bounded] * deviation[:, bounded])
    return np.asarray(_by_unit(readings, logs) - 0.5 * np.square(z).sum(axis=2) - LOG_2PI)


def _slopes(readings: CensoredReadings, deviation: Floats) -> tuple[Floats, Floats]:
    """Derivative of the log density of each reading by the line over s, and the negative second one."""
    slope, curvature = deviation.copy(), np.ones(deviation.shape)
    bounded = readings.side != 0
    toward = -readings.side[bounded]
    inside = toward * deviation[:, bounded]
    ratio = np.exp(-0.5 * np.square(inside) - 0.5 * LOG_2PI - log_ndtr(inside))
    slope[:, bounded] = -toward * ratio
    curvature[:, bounded] = np.clip(ratio * (ratio + inside), 0.0, 1.0)
    return slope, curvature


def _modes(readings: CensoredReadings, free: _Deviations) -> tuple[Floats, Floats]:
    """Mode of each unit's z (S, units, 2), and the lower Cholesky factor of the inverse curvature there."""
    z = np.zeros((free.base.shape[0], readings.first.size, 2))
    for step in range(STEPS + 1):
        slope, weight = _slopes(readings, free.of(readings, z))
        h00 = 1.0 + _by_unit(readings, weight * free.along0 * free.along0)
        h01 = _by_unit(readings, weight * free.along0 * free.along1)
        h11 = 1.0 + _by_unit(readings, weight * free.along1 * free.along1)
        determinant = h00 * h11 - h01 * h01
        if step == STEPS:
            break
        g0 = _by_unit(readings, slope * free.along0) - z[..., 0]
        g1 = _by_unit(readings, slope * free.along1) - z[..., 1]
        move = np.stack(((h11 * g0 - h01 * g1) / determinant, (h00 * g1 - h01 * g0) / determinant), axis=2)
        length = np.sqrt(np.square(move).sum(axis=2, keepdims=True))
        z = z + move * np.minimum(1.0, LONGEST_STEP / np.maximum(length, 1e-12))
        if float(length.max()) < 1e-6:
            break
    root = np.zeros((*h00.shape, 2, 2))
    root[..., 0, 0] = np.sqrt(h11 / determinant)
    root[..., 1, 0] = -h01 / determinant / root[..., 0, 0]
    root[..., 1, 1] = np.sqrt(1.0 / h11)
    return z, root


def _scores(readings: CensoredReadings, point: Floats, z: Floats) -> Floats:
    """Derivatives of the log density of each unit's readings given z (nodes, units, 2), (nodes, units, 6)."""
    free = _Deviations.at(readings, point[None, :])
    slope = _slopes(readings, free.of(readings, z))[0]
    each = np.repeat(z, readings.counts, axis=1)
    over_s = slope * np.exp(-point[2])
    by_log_s = slope * free.base - (readings.side == 0)
    parts = (over_s, over_s * readings.x, by_log_s, slope * each[..., 0], slope * readings.x * each[..., 0],
             slope * readings.x * each[..., 1])  # fmt: skip
    return np.asarray(np.add.reduceat(np.stack(parts, axis=2), readings.first, axis=1))
