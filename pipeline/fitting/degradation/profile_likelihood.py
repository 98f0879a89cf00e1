"""Likelihood of a straight line with random intercept and slope by unit, from per-unit sums.

    y_ij = (b0 + u0_i) + (b1 + u1_i) x_ij + e_ij     u_i ~ N(0, s2 W)     e_ij ~ N(0, s2)     W = L L'

For given L, the maxima over b and s2 have closed forms; the profiled deviance is a function of the three entries of
the lower triangle L (relative to the residual sd). All of it is two-by-two algebra over arrays of units, so the cost
is that of a few passes over the units, whatever the number of readings. Inverses are written out by the adjugate,
because differences of large terms would lose every digit where units differ much. References: Laird & Ware (1982),
Biometrics 38, 963-974; Bates, Maechler, Bolker & Walker (2015), Journal of Statistical Software 67(1), for the
profiled deviance and its parameters (formulas from memory, tested against published fits and another program).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from draincurve.pipeline.fitting.degradation.sums_of_units import UnitSums
from draincurve.schemas.array_types import Floats

Symmetric = tuple[Floats, Floats, Floats]
"""Entries 00, 01 and 11 of symmetric two-by-two matrices, one for each unit."""


@dataclass(frozen=True, slots=True)
class Profile:
    """The best fit for a given L, on the scale of the sums.

    deviance : -2 log (restricted) likelihood; gradient : (3,), of the deviance by L00, L10, L11; coefficients : (p,),
    the fixed effects; unscaled : (p, p), their covariance over s2; residual_variance : s2
    """

    deviance: float
    gradient: Floats
    coefficients: Floats
    unscaled: Floats
    residual_variance: float


def profile(sums: UnitSums, lower: Floats, *, restricted: bool, fixed: tuple[int, ...] = (0, 1)) -> Profile:
    """Deviance at L, minimised over fixed effects and residual variance.

    lower : (3,), L00, L10, L11; restricted : whether the likelihood is the restricted one; fixed : which of intercept
    (0) and slope (1) are fixed effects
    """
    precision, cross, square, log_det = unit_terms(sums, lower)
    total = _full(*(part.sum() for part in precision))
    right = np.array([part.sum() for part in cross])
    index = np.array(fixed)
    inner = total[np.ix_(index, index)]
    unscaled = np.linalg.inv(inner)
    solved = unscaled @ right[index]
    beta = np.zeros(2)
    beta[index] = solved
    residual = max(float(square.sum() - right[index] @ solved), 1e-300)
    freedom = sums.rows - (index.size if restricted else 0)
    deviance = float(log_det.sum()) + freedom * (1.0 + np.log(2.0 * np.pi * residual / freedom))
    score = _unit_scores(precision, cross, beta=beta)
    by_w = total - freedom / residual * _sum_of_outer_products(score)
    if restricted:
        deviance += float(np.linalg.slogdet(inner)[1])
        by_w -= _sandwich_sum(precision, index, unscaled=unscaled)
    deviance += 2.0 * freedom * np.log(sums.response_scale)
    if restricted and 1 in fixed:
        deviance += 2.0 * np.log(sums.clock_scale)
    by_lower = 2.0 * by_w @ np.array([[lower[0], 0.0], [lower[1], lower[2]]])
    gradient = np.array([by_lower[0, 0], by_lower[1, 0], by_lower[1, 1]])
    return Profile(deviance, gradient, solved, unscaled, residual / freedom)


def restricted_deviances(sums: UnitSums, lowers: Floats) -> tuple[Floats, Floats]:
    """Restricted deviances at many L, up to a constant, and the residual variances s2, (draws,) each.

    lowers : (draws, 3), L00, L10, L11; intercept and slope are fixed effects
    """
    precision, cross, square, log_det = unit_terms(sums, lowers.T[:, :, None])
    p00, p01, p11 = (part.sum(axis=1) for part in precision)
    r0, r1 = (part.sum(axis=1) for part in cross)
    determinant = p00 * p11 - p01 * p01
    explained = (p11 * r0 * r0 - 2.0 * p01 * r0 * r1 + p00 * r1 * r1) / determinant
    residual = np.maximum(square.sum(axis=1) - explained, 1e-300)
    deviance = log_det.sum(axis=1) + np.log(determinant) + (sums.rows - 2) * np.log(residual)
    return np.asarray(deviance), residual / (sums.rows - 2)


def unit_terms(sums: UnitSums, lower: Floats) -> tuple[Symmetric, tuple[Floats, Floats], Floats, Floats]:
    """X'V^-1 X, X'V^-1 y, y'V^-1 y and log |V| of every unit, with V the covariance of its readings over s2.

    lower : L00, L10, L11, each a number, or a column (draws, 1) for results of shape (draws, units)
    """
    first, mixed, second = lower
    w00, w01, w11 = first * first, first * mixed, mixed * mixed + second * second
    n, x, xx, y, xy = sums.readings, sums.x, sums.xx, sums.y, sums.xy
    # With A = X'X: V^-1 needs (I + A W)^-1, whose terms are all non-negative sums, however large W is.
    det_a = n * sums.centred_xx
    adjugate0, adjugate1 = sums.centred_xx * y - x * sums.centred_xy, n * sums.centred_xy
    det_w = (first * second) ** 2
    determinant = 1.0 + w00 * n + 2.0 * w01 * x + w11 * xx + det_w * det_a
    precision = (
        (n + det_a * w11) / determinant,
        (x - det_a * w01) / determinant,
        (xx + det_a * w00) / determinant,
    )
    cross = (
        (y + w11 * adjugate0 - w01 * adjugate1) / determinant,
        (xy - w01 * adjugate0 + w00 * adjugate1) / determinant,
    )
    direct = w00 * y * y + 2.0 * w01 * y * xy + w11 * xy * xy
    explained = direct + det_w * (sums.centred_xx * y * y + n * sums.centred_xy * sums.centred_xy)
    return precision, cross, sums.yy - explained / determinant, np.log(determinant)


def _unit_scores(precision: Symmetric, cross: tuple[Floats, Floats], *, beta: Floats) -> tuple[Floats, Floats]:
    """X'V^-1 (y - X beta) of every unit."""
    return (
        cross[0] - precision[0] * beta[0] - precision[1] * beta[1],
        cross[1] - precision[1] * beta[0] - precision[2] * beta[1],
    )


def _sum_of_outer_products(score: tuple[Floats, Floats]) -> Floats:
    first, second = score
    return _full(_dot(first, first), _dot(first, second), _dot(second, second))


def _sandwich_sum(precision: Symmetric, index: NDArray[np.integer], *, unscaled: Floats) -> Floats:
    """Sum over units of B C B, with B a unit's precision and C the covariance of the fixed effects over s2."""
    whole = np.zeros((2, 2))
    whole[np.ix_(index, index)] = unscaled
    b00, b01, b11 = precision
    rows = ((b00, b01), (b01, b11))
    return np.array(
        [
            [sum(whole[k, m] * _dot(rows[i][k], rows[m][j]) for k in range(2) for m in range(2)) for j in range(2)]
            for i in range(2)
        ]
    )


def _dot(first: Floats, second: Floats) -> float:
    """A sum of products on one thread: short sums take less time than starting several threads."""
    return float(np.einsum("i,i->", first, second))


def _full(first: float, mixed: float, second: float) -> Floats:
    return np.array([[first, mixed], [mixed, second]], dtype=np.float64)
