"""Log chance of one rating, and its derivatives, compiled: the innermost arithmetic of the rating model.

A rating (or a range of ratings) lies between a lower cut b and an upper cut a, both less the linear predictor:
P = F(a) - F(b), with a = +inf above the top level and b = -inf below the first. All three links are
log-concave, so the log likelihood of a unit has one mode in the unit's effect (Pratt 1981, J. Am. Stat. Assoc. 76).

Each link gives log P, the score parts ga = F'(a)/P and gb = -F'(b)/P, and the ratios s = F''/F' and u = F'''/F' at
both ends; every higher derivative follows from these by one formula for all links.
"""

from __future__ import annotations

import math

from numba import njit

from draincurve.pipeline.fitting.links import CLOGLOG, LOGIT

Cell = tuple[float, float, float, float, float, float, float]

_LOG_SQRT_TWO_PI = 0.9189385332046727
_FAR_TAIL = 12.0  # beyond it the normal distribution is taken from its Mills ratio: erfc would soon underflow
_TINY = 1e-80
_FAR_LOGIT = 300.0  # beyond it exponentials of cuts would overflow when multiplied


@njit(cache=True, inline="never")
def cell(link: int, a: float, b: float) -> Cell:
    """(log P, ga, gb, sa, sb, ua, ub) of the cell between cuts b < a under a link's code."""
    if link == LOGIT:
        return _logit_cell(a, b)
    if link == CLOGLOG:
        return _cloglog_cell(a, b)
    return _probit_cell(a, b)


@njit(cache=True)
def log_cell(link: int, a: float, b: float) -> float:
    """Log P alone."""
    if link == LOGIT:
        return _logit_parts(a, b)[0]
    if link == CLOGLOG:
        ta = _exp_minus(a)
        tb = _exp_minus(b)
        return -ta + math.log(_positive(-math.expm1(ta - tb)))
    return _probit_cell(a, b)[0]


@njit(cache=True)
def second_derivatives(parts: Cell) -> tuple[float, float, float]:
    """(aa, ab, bb): second derivatives of log P by the two cuts."""
    _, ga, gb, sa, sb, _, _ = parts
    return ga * sa - ga * ga, -ga * gb, gb * sb - gb * gb


@njit(cache=True)
def curvature_slopes(parts: Cell) -> tuple[float, float]:
    """Derivatives by a and by b of the curvature of log P in the linear predictor."""
    _, ga, gb, sa, sb, ua, ub = parts
    first = ga + gb
    second = ga * sa + gb * sb
    by_a = ga * ua - second * ga - 2.0 * first * (ga * sa - first * ga)
    by_b = gb * ub - second * gb - 2.0 * first * (gb * sb - first * gb)
    return by_a, by_b


@njit(cache=True)
def _positive(value: float) -> float:
    """Held off zero, so that a trial step far out costs much instead of breaking the arithmetic."""
    return max(value, _TINY)


@njit(cache=True)
def _softplus(x: float) -> float:
    """log(1 + exp(x)), for any x; 0 at -inf."""
    if x > 0.0:
        return x + math.log1p(math.exp(-x))
    return math.log1p(math.exp(x))


@njit(cache=True)
def _exp_minus(x: float) -> float:
    """exp(-x), held where F is 0 to every digit, so that its third powers stay finite."""
    if x == math.inf:
        return 0.0
    return math.exp(min(-x, 40.0))


@njit(cache=True)
def _expit(x: float) -> float:
    if x >= 0.0:
        return 1.0 / (1.0 + math.exp(-x))
    e = math.exp(x)
    return e / (1.0 + e)


@njit(cache=True)
def _logit_parts(a: float, b: float) -> tuple[float, float, float, float]:
    """(log P, 1 - F(a), F(b), exp(b - a) / (1 - exp(b - a)) or 0 where a cut is infinite).

    With s = exp(-a) and t = exp(b), P = (1 - s t) / ((1 + s)(1 + t)): two exponentials and a logarithm.
    """
    if a < -_FAR_LOGIT or b > _FAR_LOGIT:
        return _far_logit_parts(a, b)
    s = math.exp(-a)
    t = math.exp(b)
    beside = s * t
    gap = _positive(1.0 - beside if beside < 0.5 else -math.expm1(b - a))
    return math.log(gap / ((1.0 + s) * (1.0 + t))), s / (1.0 + s), t / (1.0 + t), beside / gap


@njit(cache=True)
def _far_logit_parts(a: float, b: float) -> tuple[float, float, float, float]:
    """The same where an exponential would overflow."""
    finite = a < math.inf and b > -math.inf
    gap = _positive(-math.expm1(b - a)) if finite else 1.0
    beside = math.exp(b - a) if finite else 0.0
    log_p = math.log(gap) - _softplus(-a) - _softplus(b)
    upper = 0.0 if a == math.inf else _expit(-a)
    lower = 0.0 if b == -math.inf else _expit(b)
    return log_p, upper, lower, beside / gap


@njit(cache=True)
def _logit_cell(a: float, b: float) -> Cell:
    log_p, above, below, r = _logit_parts(a, b)
    ga = above + r
    gb = -below - r
    sa = 2.0 * above - 1.0
    sb = 1.0 - 2.0 * below
    ua = sa * sa - 2.0 * above * (1.0 - above)
    ub = sb * sb - 2.0 * below * (1.0 - below)
    return log_p, ga, gb, sa, sb, ua, ub


@njit(cache=True)
def _cloglog_cell(a: float, b: float) -> Cell:
    ta = _exp_minus(a)
    tb = _exp_minus(b)
    share = _positive(-math.expm1(ta - tb))
    log_p = -ta + math.log(share)
    ga = ta / share
    gb = 0.0
    if b > -math.inf:
        gb = -tb * math.exp(ta - tb) / share
    sa = ta - 1.0
    sb = tb - 1.0
    if gb == 0.0:  # nothing is left of F there, and its own powers would overflow
        sb = 0.0
        tb = 0.0
    return log_p, ga, gb, sa, sb, sa * sa - ta, sb * sb - tb


@njit(cache=True)
def _mills(x: float) -> float:
    """Mills ratio of the normal distribution for x over 12, asymptotic series, relative error under 1e-10."""
    if x == math.inf:
        return 0.0
    y = 1.0 / (x * x)
    far = 1.0 - 9.0 * y * (1.0 - 11.0 * y * (1.0 - 13.0 * y))
    return (1.0 - y * (1.0 - 3.0 * y * (1.0 - 5.0 * y * (1.0 - 7.0 * y * far)))) / x


@njit(cache=True)
def _upper_tail(x: float) -> float:
    return 0.5 * math.erfc(x * 0.7071067811865476)


@njit(cache=True)
def _probit_parts(a: float, b: float) -> tuple[float, float, float]:
    """(log P, pdf(a)/P, pdf(b)/P) for cuts in the upper half, or around zero."""
    if b > _FAR_TAIL:
        drop = 0.0 if a == math.inf else math.exp(max(-0.5 * (a - b) * (a + b), -700.0))
        mass = _positive(_mills(b) - _mills(a) * drop)
        return -0.5 * b * b - _LOG_SQRT_TWO_PI + math.log(mass), drop / mass, 1.0 / mass
    upper = 0.0 if a == math.inf else _upper_tail(a)
    lower = 1.0 if b == -math.inf else _upper_tail(b)
    mass = _positive(lower - upper)
    density_a = 0.0 if a == math.inf else math.exp(-0.5 * a * a - _LOG_SQRT_TWO_PI)
    density_b = 0.0 if b == -math.inf else math.exp(-0.5 * b * b - _LOG_SQRT_TWO_PI)
    return math.log(mass), density_a / mass, density_b / mass


@njit(cache=True)
def _probit_cell(a: float, b: float) -> Cell:
    if a < 0.0 or (b < 0.0 and a < -b):
        log_p, density_b, density_a = _probit_parts(-b, -a)
    else:
        log_p, density_a, density_b = _probit_parts(a, b)
    xa = 0.0 if a == math.inf else a
    xb = 0.0 if b == -math.inf else b
    return log_p, density_a, -density_b, -xa, -xb, xa * xa - 1.0, xb * xb - 1.0
