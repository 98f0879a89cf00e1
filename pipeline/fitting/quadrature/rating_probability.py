"""Log probability of one rating, and its derivatives, compiled: the innermost arithmetic of the rating model.

The probability of a rating (or a range of ratings) is P = F(a) - F(b), with a the threshold above it and b the
threshold below it, both less the linear predictor; a = +inf above the top level and b = -inf below the first. All
three links are log-concave, so the likelihood of a unit has one mode in the unit's effect (Pratt 1981, J. Am. Stat.
Assoc. 76, 103-106).

Each link gives log P, the scores ga = F'(a)/P and gb = -F'(b)/P, and the ratios s = F''/F' and u = F'''/F' at both
bounds a and b; all higher derivatives follow from these by the same formulas for every link.
"""

from __future__ import annotations

import math

from numba import njit

from draincurve.pipeline.fitting.links import CLOGLOG, LOGIT

ProbabilityTerms = tuple[float, float, float, float, float, float, float]
"""(log P, ga, gb, sa, sb, ua, ub)."""

_LOG_SQRT_TWO_PI = 0.9189385332046727
_FAR_TAIL = 12.0  # beyond it normal tail probabilities come from the Mills ratio: erfc would soon underflow
_TINY = 1e-80
_FAR_LOGIT = 300.0  # beyond it products of exponentials would overflow


@njit(cache=True, inline="never")
def probability_terms(link: int, a: float, b: float) -> ProbabilityTerms:
    """The terms of the probability between bounds b < a, under a link's code."""
    if link == LOGIT:
        return _logit_terms(a, b)
    if link == CLOGLOG:
        return _cloglog_terms(a, b)
    return _probit_terms(a, b)


@njit(cache=True)
def log_probability(link: int, a: float, b: float) -> float:
    """Log P alone."""
    if link == LOGIT:
        return _logit_pieces(a, b)[0]
    if link == CLOGLOG:
        ta = _exp_minus(a)
        tb = _exp_minus(b)
        return -ta + math.log(_positive(-math.expm1(ta - tb)))
    return _probit_terms(a, b)[0]


@njit(cache=True)
def second_derivatives(terms: ProbabilityTerms) -> tuple[float, float, float]:
    """(aa, ab, bb): second derivatives of log P by the two bounds."""
    _, ga, gb, sa, sb, _, _ = terms
    return ga * sa - ga * ga, -ga * gb, gb * sb - gb * gb


@njit(cache=True)
def curvature_derivatives(terms: ProbabilityTerms) -> tuple[float, float]:
    """Derivatives by a and by b of the second derivative of log P by the linear predictor."""
    _, ga, gb, sa, sb, ua, ub = terms
    first = ga + gb
    second = ga * sa + gb * sb
    by_a = ga * ua - second * ga - 2.0 * first * (ga * sa - first * ga)
    by_b = gb * ub - second * gb - 2.0 * first * (gb * sb - first * gb)
    return by_a, by_b


@njit(cache=True)
def _positive(value: float) -> float:
    """At least _TINY, so that a trial step too far gives a very low likelihood instead of an invalid one."""
    return max(value, _TINY)


@njit(cache=True)
def _softplus(x: float) -> float:
    """log(1 + exp(x)), for any x; 0 at -inf."""
    if x > 0.0:
        return x + math.log1p(math.exp(-x))
    return math.log1p(math.exp(x))


@njit(cache=True)
def _exp_minus(x: float) -> float:
    """exp(-x), capped where F is 0 to every digit, so that its third power stays finite."""
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
def _logit_pieces(a: float, b: float) -> tuple[float, float, float, float]:
    """(log P, 1 - F(a), F(b), exp(b - a) / (1 - exp(b - a)) or 0 where a bound is infinite).

    With s = exp(-a) and t = exp(b), P = (1 - s t) / ((1 + s)(1 + t)): two exponentials and a logarithm.
    """
    if a < -_FAR_LOGIT or b > _FAR_LOGIT:
        return _far_logit_pieces(a, b)
    s = math.exp(-a)
    t = math.exp(b)
    ratio = s * t
    gap = _positive(1.0 - ratio if ratio < 0.5 else -math.expm1(b - a))
    return math.log(gap / ((1.0 + s) * (1.0 + t))), s / (1.0 + s), t / (1.0 + t), ratio / gap


@njit(cache=True)
def _far_logit_pieces(a: float, b: float) -> tuple[float, float, float, float]:
    """The same where an exponential would overflow."""
    finite = a < math.inf and b > -math.inf
    gap = _positive(-math.expm1(b - a)) if finite else 1.0
    ratio = math.exp(b - a) if finite else 0.0
    log_p = math.log(gap) - _softplus(-a) - _softplus(b)
    upper = 0.0 if a == math.inf else _expit(-a)
    lower = 0.0 if b == -math.inf else _expit(b)
    return log_p, upper, lower, ratio / gap


@njit(cache=True)
def _logit_terms(a: float, b: float) -> ProbabilityTerms:
    log_p, above, below, r = _logit_pieces(a, b)
    ga = above + r
    gb = -below - r
    sa = 2.0 * above - 1.0
    sb = 1.0 - 2.0 * below
    ua = sa * sa - 2.0 * above * (1.0 - above)
    ub = sb * sb - 2.0 * below * (1.0 - below)
    return log_p, ga, gb, sa, sb, ua, ub


@njit(cache=True)
def _cloglog_terms(a: float, b: float) -> ProbabilityTerms:
    ta = _exp_minus(a)
    tb = _exp_minus(b)
    relative = _positive(-math.expm1(ta - tb))
    log_p = -ta + math.log(relative)
    ga = ta / relative
    gb = 0.0
    if b > -math.inf:
        gb = -tb * math.exp(ta - tb) / relative
    sa = ta - 1.0
    sb = tb - 1.0
    if gb == 0.0:  # F is 0 there, and powers of tb would overflow
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
def _probit_pieces(a: float, b: float) -> tuple[float, float, float]:
    """(log P, pdf(a)/P, pdf(b)/P) for bounds in the upper half, or on both sides of zero."""
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
def _probit_terms(a: float, b: float) -> ProbabilityTerms:
    if a < 0.0 or (b < 0.0 and a < -b):
        log_p, density_b, density_a = _probit_pieces(-b, -a)
    else:
        log_p, density_a, density_b = _probit_pieces(a, b)
    xa = 0.0 if a == math.inf else a
    xb = 0.0 if b == -math.inf else b
    return log_p, density_a, -density_b, -xa, -xb, xa * xa - 1.0, xb * xb - 1.0
