"""A unit's two effects given its drains: their density, its mode, and its integral by 2-D adaptive quadrature.

The effects are z1 = w1 and z2 = rho w1 + sqrt(1 - rho^2) w2 with w standard normal, so a correlation of 1 needs no
case of its own. Newton's method finds the mode of w as if the two ratings of a drain were independent, since that
density is log-concave. Strong association moves the mode by half a standard deviation, so the frame of the nodes is
then centred and scaled by a quadratic through the whole log density at 3 x 3 points around. With 3 x 3 nodes this is
off by 0.01 at most in the log likelihood of 20 units with 10 drains, at an odds ratio of 7 and correlations up to
0.999; without centring by 0.05.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from draincurve.pipeline.fitting.joint.paired_drains import ChannelRatings
from draincurve.pipeline.fitting.joint.plackett import cell_probability
from draincurve.pipeline.fitting.links import CLOGLOG, LOGIT
from draincurve.schemas.array_types import Floats, Integers

_BY_PRODUCT = (LOGIT, CLOGLOG)
"""Links under which a bound, a drain and a node enter as a product of exponentials."""

WIDER = 1.2
"""Proposals are wider than the density by this factor, so that its tails are proposed too."""

_TINY = 1e-300
_SMALL = 1e-100
_LARGEST_EXPONENT = 600.0
_LONGEST_STEP = 2.0
_NEWTON_STEPS, _NEWTON_TOLERANCE = 60, 1e-4
_LEAST_PRECISION, _LEAST_DETERMINANT = 0.3, 0.2
"""A quadratic flatter than this, in units of the uncentred frame, is not used."""


@njit(cache=True)
def fill_bounds(link: int, bounds: Floats, fixed: Floats, levels: Integers, row: Integers, factors: Floats) -> None:
    """Contribution of a drain's bound to the distribution function, (N,): see `distribution_at`."""
    for i in range(levels.size):
        bound = bounds[levels[i]]
        if link in _BY_PRODUCT:
            if bound == math.inf:
                factors[i] = 0.0
            elif bound == -math.inf:
                factors[i] = math.inf
            else:
                factors[i] = math.exp(min(fixed[row[i]] - bound, _LARGEST_EXPONENT))
        else:
            factors[i] = fixed[row[i]] - bound


@njit(cache=True)
def fill_pair_factors(link: int, first: ChannelRatings, second: ChannelRatings, draw: int, factors: Floats) -> None:
    """Fill what the bounds of two channels' ratings give under one draw, (4, N): upper and lower of either."""
    fill_bounds(link, first.bounds[draw], first.fixed[draw], first.high, first.row, factors[0])
    fill_bounds(link, first.bounds[draw], first.fixed[draw], first.low - 1, first.row, factors[1])
    fill_bounds(link, second.bounds[draw], second.fixed[draw], second.high, second.row, factors[2])
    fill_bounds(link, second.bounds[draw], second.fixed[draw], second.low - 1, second.row, factors[3])


@njit(cache=True, inline="always")
def node_factor(link: int, shift: float) -> float:
    """Contribution of a node to the distribution function; shift : unit sd times the effect."""
    if link in _BY_PRODUCT:
        return math.exp(min(max(shift, -_LARGEST_EXPONENT), _LARGEST_EXPONENT))
    return shift


@njit(cache=True, inline="always")
def distribution_at(link: int, factor: float, node: float) -> float:
    """Distribution function at a bound less the linear predictor."""
    if link == LOGIT:
        return 1.0 / (1.0 + factor * node)
    if link == CLOGLOG:
        return math.exp(-factor * node)
    return 0.5 * math.erfc((factor + node) / math.sqrt(2.0))


@njit(cache=True, inline="always")
def _slopes(link: int, factor: float, node: float) -> tuple[float, float]:
    """First and second derivative of the distribution function by the linear predictor."""
    if link == CLOGLOG:
        x = factor * node
        if x <= 0.0 or x > _LARGEST_EXPONENT:
            return 0.0, 0.0
        below = math.exp(-x)
        return -x * below, (x * x - x) * below
    x = factor + node
    if abs(x) > 38.0:
        return 0.0, 0.0
    density = math.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi)
    return -density, x * density


@njit(cache=True)
def _score_and_information(
    link: int, upper: Floats, lower: Floats, first: int, last: int, node: float
) -> tuple[float, float]:
    """Sums over a unit's drains of the first derivative of log P by the predictor, and of minus the second."""
    score, information = 0.0, 0.0
    for i in range(first, last):
        above, below = distribution_at(link, upper[i], node), distribution_at(link, lower[i], node)
        if link == LOGIT:
            score += above + below - 1.0
            information += above * (1.0 - above) + below * (1.0 - below)
        else:
            a, aa = _slopes(link, upper[i], node)
            b, bb = _slopes(link, lower[i], node)
            p = max(above - below, _TINY)
            unit_score = (a - b) / p
            score += unit_score
            information += max(unit_score * unit_score - (aa - bb) / p, 0.0)
    return score, information


@njit(cache=True)
def log_density(link: int, factors: Floats, first: int, last: int, shifts: Floats, odds_ratio: float) -> float:
    """Log probability of a unit's ratings; factors : (4, N), upper and lower of either channel; shifts : (2,)."""
    first_node, second_node = node_factor(link, shifts[0]), node_factor(link, shifts[1])
    total, product = 0.0, 1.0
    for i in range(first, last):
        product *= cell_probability(
            distribution_at(link, factors[0, i], first_node),
            distribution_at(link, factors[1, i], first_node),
            distribution_at(link, factors[2, i], second_node),
            distribution_at(link, factors[3, i], second_node),
            odds_ratio,
        )
        if product < _SMALL:
            total += math.log(max(product, _TINY))
            product = 1.0
    return total + math.log(product)


@njit(cache=True)
def _density_at(
    link: int,
    factors: Floats,
    first: int,
    last: int,
    sds: Floats,
    rho: float,
    odds_ratio: float,
    measured: Floats,
    w1: float,
    w2: float,
    shifts: Floats,
) -> float:
    """Log density of w at a point, but for a constant."""
    z1, z2 = w1, rho * w1 + math.sqrt(max(1.0 - rho * rho, 0.0)) * w2
    shifts[0], shifts[1] = sds[0] * z1, sds[1] * z2
    of_readings = (measured[0] - 0.5 * measured[1] * z1) * z1 + (measured[2] - 0.5 * measured[3] * z2) * z2
    of_ratings = log_density(link, factors, first, last, shifts, odds_ratio)
    return float(of_ratings + of_readings - 0.5 * (w1 * w1 + w2 * w2))


@njit(cache=True)
def _independent_mode(
    link: int,
    factors: Floats,
    first: int,
    last: int,
    sds: Floats,
    rho: float,
    measured: Floats,
    mode: Floats,
    curvature: Floats,
) -> None:
    """Fill the mode (2,) of w at an odds ratio of 1, from where it is, and its curvature (3,): 11, 12 and 22."""
    rest = math.sqrt(max(1.0 - rho * rho, 0.0))
    for _ in range(_NEWTON_STEPS):
        z2 = rho * mode[0] + rest * mode[1]
        first_node, second_node = node_factor(link, sds[0] * mode[0]), node_factor(link, sds[1] * z2)
        g1, h1 = _score_and_information(link, factors[0], factors[1], first, last, first_node)
        g2, h2 = _score_and_information(link, factors[2], factors[3], first, last, second_node)
        g1 = sds[0] * g1 + measured[0] - measured[1] * mode[0]
        g2 = sds[1] * g2 + measured[2] - measured[3] * z2
        h1, h2 = sds[0] * sds[0] * h1 + measured[1], sds[1] * sds[1] * h2 + measured[3]
        curvature[0] = 1.0 + h1 + rho * rho * h2
        curvature[1] = rho * rest * h2
        curvature[2] = 1.0 + rest * rest * h2
        determinant = curvature[0] * curvature[2] - curvature[1] * curvature[1]
        by1, by2 = g1 + rho * g2 - mode[0], rest * g2 - mode[1]
        step1 = (curvature[2] * by1 - curvature[1] * by2) / determinant
        step2 = (curvature[0] * by2 - curvature[1] * by1) / determinant
        longest = max(abs(step1), abs(step2))
        share = 1.0 if longest < _LONGEST_STEP else _LONGEST_STEP / longest
        mode[0] += share * step1
        mode[1] += share * step2
        if longest < _NEWTON_TOLERANCE:
            break


@njit(cache=True)
def fill_frame(
    link: int,
    factors: Floats,
    first: int,
    last: int,
    sds: Floats,
    rho: float,
    odds_ratio: float,
    measured: Floats,
    mode: Floats,
    frame: Floats,
) -> None:
    """Fill the frame (5,) of a unit: centre of w (2) and lower Cholesky factor (11, 21, 22) of its covariance.

    measured (4,) : what measured values say of the effects, as coefficients l and q of either, l z - q z^2 / 2 in the
    log density; zeros where nothing was measured.
    mode (2,) : start of the search, and the mode at an odds ratio of 1 on return.
    """
    curvature, shifts = np.empty(3), np.empty(2)
    _independent_mode(link, factors, first, last, sds, rho, measured, mode, curvature)
    determinant = curvature[0] * curvature[2] - curvature[1] * curvature[1]
    c11 = math.sqrt(curvature[2] / determinant)
    c21 = -curvature[1] / determinant / c11
    c22 = math.sqrt(1.0 / curvature[2])
    grid = np.empty((3, 3))
    for j in range(3):
        for k in range(3):
            w1 = mode[0] + c11 * (j - 1)
            w2 = mode[1] + c21 * (j - 1) + c22 * (k - 1)
            grid[j, k] = _density_at(link, factors, first, last, sds, rho, odds_ratio, measured, w1, w2, shifts)
    by1, by2 = 0.5 * (grid[2, 1] - grid[0, 1]), 0.5 * (grid[1, 2] - grid[1, 0])
    p11 = 2.0 * grid[1, 1] - grid[2, 1] - grid[0, 1]
    p22 = 2.0 * grid[1, 1] - grid[1, 2] - grid[1, 0]
    p12 = 0.25 * (grid[2, 0] + grid[0, 2] - grid[2, 2] - grid[0, 0])
    d = p11 * p22 - p12 * p12
    if p11 < _LEAST_PRECISION or p22 < _LEAST_PRECISION or d < _LEAST_DETERMINANT:
        p11, p22, p12, d = 1.0, 1.0, 0.0, 1.0
    e1, e2 = (p22 * by1 - p12 * by2) / d, (p11 * by2 - p12 * by1) / d
    longest = max(abs(e1), abs(e2))
    if longest > _LONGEST_STEP:
        e1, e2 = e1 * _LONGEST_STEP / longest, e2 * _LONGEST_STEP / longest
    q11 = math.sqrt(p22 / d)
    q21, q22 = -p12 / d / q11, math.sqrt(1.0 / p22)
    frame[0], frame[1] = mode[0] + c11 * e1, mode[1] + c21 * e1 + c22 * e2
    frame[2], frame[3], frame[4] = c11 * q11, c21 * q11 + c22 * q21, c22 * q22


@njit(cache=True)
def unit_log_likelihood(
    link: int,
    factors: Floats,
    first: int,
    last: int,
    sds: Floats,
    rho: float,
    odds_ratio: float,
    measured: Floats,
    mode: Floats,
    nodes: Floats,
    log_weights: Floats,
) -> float:
    """Log marginal likelihood of a unit's ratings.

    nodes, log_weights : of a Gauss-Hermite rule, (Q,), with the square of the node added to the log of its weight.
    """
    frame, shifts = np.empty(5), np.empty(2)
    fill_frame(link, factors, first, last, sds, rho, odds_ratio, measured, mode, frame)
    logs = np.empty(nodes.size * nodes.size)
    for j in range(nodes.size):
        for k in range(nodes.size):
            e1, e2 = math.sqrt(2.0) * nodes[j], math.sqrt(2.0) * nodes[k]
            w1, w2 = frame[0] + frame[2] * e1, frame[1] + frame[3] * e1 + frame[4] * e2
            density = _density_at(link, factors, first, last, sds, rho, odds_ratio, measured, w1, w2, shifts)
            logs[j * nodes.size + k] = log_weights[j] + log_weights[k] + density
    top = logs.max()
    scale = frame[2] * frame[4] / math.pi
    return float(top + math.log(np.exp(logs - top).sum()) + math.log(scale))


@njit(cache=True)
def draw_effects(
    link: int,
    factors: Floats,
    first: int,
    last: int,
    sds: Floats,
    rho: float,
    odds_ratio: float,
    measured: Floats,
    mode: Floats,
    normals: Floats,
    pick: float,
    effects: Floats,
) -> None:
    """Fill one draw (2,) of a unit's effects: one of M proposals from the frame, chosen by the exact density.

    normals : (M, 2), standard normal; pick : uniform number of the choice.
    """
    frame, shifts = np.empty(5), np.empty(2)
    fill_frame(link, factors, first, last, sds, rho, odds_ratio, measured, mode, frame)
    proposals = normals.shape[0]
    logs, points = np.empty(proposals), np.empty((proposals, 2))
    for m in range(proposals):
        e1, e2 = WIDER * normals[m, 0], WIDER * normals[m, 1]
        points[m, 0] = frame[0] + frame[2] * e1
        points[m, 1] = frame[1] + frame[3] * e1 + frame[4] * e2
        density = _density_at(
            link, factors, first, last, sds, rho, odds_ratio, measured, points[m, 0], points[m, 1], shifts
        )
        logs[m] = density + 0.5 * (normals[m, 0] ** 2 + normals[m, 1] ** 2)
    weights = np.exp(logs - logs.max())
    left = pick * weights.sum()
    chosen = proposals - 1
    for m in range(proposals):
        left -= weights[m]
        if left <= 0.0:
            chosen = m
            break
    effects[0] = points[chosen, 0]
    effects[1] = rho * points[chosen, 0] + math.sqrt(max(1.0 - rho * rho, 0.0)) * points[chosen, 1]
