"""Every value and derivative of a cell against mpmath at 60 digits, where doubles would cancel or underflow."""

import math

import mpmath
import numpy as np
import pytest

from draincurve.pipeline.fitting.links import LINKS
from draincurve.pipeline.fitting.quadrature.rating_probability import (
    curvature_derivatives,
    log_probability,
    probability_terms,
    second_derivatives,
)

INF = math.inf
BOUNDS = [
    (0.3, -0.9),
    (2.5, 2.4),
    (-1.0, -1.001),
    (INF, 0.4),
    (0.4, -INF),
    (4.0, -4.0),
    (9.0, 7.0),
    (-7.0, -9.0),
    (INF, 11.0),
    (-11.0, -INF),
    (14.0, 11.0),
    (15.0, 13.0),
    (INF, 14.0),
    (INF, 30.0),
    (-13.0, -15.0),
    (-30.0, -INF),
    (12.5, -12.5),
]
CDF = {
    "logit": lambda x: 1 / (1 + mpmath.exp(-x)),
    "probit": mpmath.ncdf,
    "cloglog": lambda x: mpmath.exp(-mpmath.exp(-x)),
}
SURVIVAL = {
    "logit": lambda x: 1 / (1 + mpmath.exp(x)),
    "probit": lambda x: mpmath.ncdf(-x),
    "cloglog": lambda x: -mpmath.expm1(-mpmath.exp(-x)),
}
EVERY_LINK = pytest.mark.parametrize("link", LINKS.values(), ids=LINKS.keys())


def outside(link, a, b):
    """Cells whose probability is below the smallest double: exp(-exp(11)) and less."""
    return link.name == "cloglog" and a < -6.0


def exact_log(name, a, b):
    """The log probability of a cell moved by (da, db, deta), exactly; both bounds less the linear predictor."""
    upper, lower = mpmath.mpf(a), mpmath.mpf(b)

    def from_below(da, db):
        top = mpmath.mpf(1) if a == INF else CDF[name](upper + da)
        bottom = mpmath.mpf(0) if b == -INF else CDF[name](lower + db)
        return mpmath.log(top - bottom)

    def from_above(da, db):
        top = mpmath.mpf(0) if a == INF else SURVIVAL[name](upper + da)
        return mpmath.log(SURVIVAL[name](lower + db) - top)

    return from_above if b > 0 else from_below


@pytest.mark.parametrize(("a", "b"), BOUNDS)
@EVERY_LINK
def test_value_and_scores(link, a, b):
    if outside(link, a, b):
        value, ga, gb = probability_terms(link.code, a, b)[:3]
        assert value < -math.exp(6.0)
        assert math.isfinite(value)
        assert math.isfinite(ga)
        assert math.isfinite(gb)
        return
    with mpmath.workdps(60):
        log_p = exact_log(link.name, a, b)
        value, by_a, by_b = (
            float(log_p(0, 0)),
            float(mpmath.diff(lambda t: log_p(t, 0), 0)) if a < INF else 0.0,
            float(mpmath.diff(lambda t: log_p(0, t), 0)) if b > -INF else 0.0,
        )
    found = probability_terms(link.code, a, b)
    rel = 1e-8 if abs(a - b) < 0.01 else 2e-10
    assert found[0] == pytest.approx(value, rel=rel, abs=1e-15)
    assert log_probability(link.code, a, b) == pytest.approx(value, rel=rel, abs=1e-15)
    assert found[1] == pytest.approx(by_a, rel=rel, abs=1e-200)
    assert found[2] == pytest.approx(by_b, rel=rel, abs=1e-200)


@pytest.mark.parametrize(("a", "b"), BOUNDS)
@EVERY_LINK
def test_second_and_third_derivatives(link, a, b):
    found = probability_terms(link.code, a, b)
    aa, ab, bb = second_derivatives(found)
    third = curvature_derivatives(found)
    if outside(link, a, b):
        assert np.all(np.isfinite([aa, ab, bb, *third]))
        return
    with mpmath.workdps(60):
        log_p = exact_log(link.name, a, b)
        exact_aa = float(mpmath.diff(lambda t: log_p(t, 0), 0, 2)) if a < INF else 0.0
        exact_bb = float(mpmath.diff(lambda t: log_p(0, t), 0, 2)) if b > -INF else 0.0
        both = a < INF and b > -INF
        exact_ab = float(mpmath.diff(lambda s, t: log_p(s, t), (0, 0), (1, 1))) if both else 0.0

        def curve(da, db):
            """Second derivative in the linear predictor at moved bounds."""
            return mpmath.diff(lambda t: log_p(da - t, db - t), 0, 2)

        exact_third = (
            float(mpmath.diff(lambda t: curve(t, 0), 0)) if a < INF else 0.0,
            float(mpmath.diff(lambda t: curve(0, t), 0)) if b > -INF else 0.0,
        )
    size = max(abs(found[1]), abs(found[2]), 1e-12)
    assert [aa, ab, bb] == pytest.approx([exact_aa, exact_ab, exact_bb], rel=1e-7, abs=1e-7 * size**2)
    assert third == pytest.approx(exact_third, rel=1e-6, abs=1e-6 * size**3)


@EVERY_LINK
def test_the_curvature_in_the_linear_predictor_is_never_positive(link):
    """Log-concave (Pratt 1981): a unit's log joint density has one peak."""
    rng = np.random.default_rng(2)
    for b, gap in zip(rng.uniform(-30, 30, 400), rng.exponential(2.0, 400), strict=True):
        aa, ab, bb = second_derivatives(probability_terms(link.code, b + gap, b))
        assert aa + 2 * ab + bb <= 1e-9


@pytest.mark.parametrize("b", [-800.0, -400.0, -45.0, 45.0, 400.0, 800.0])
@pytest.mark.parametrize("gap", [1e-9, 1.0, 50.0, INF])
@EVERY_LINK
def test_far_out_everything_stays_finite(link, gap, b):
    for upper, lower in ((b + gap, b), (b, b - gap)):
        parts = probability_terms(link.code, upper, lower)
        values = [*parts, *second_derivatives(parts), *curvature_derivatives(parts)]
        assert np.all(np.isfinite(values))
        assert parts[0] <= 0.0
        assert log_probability(link.code, upper, lower) == parts[0]


def test_chances_of_all_levels_make_one():
    bounds = np.array([-INF, -2.0, -0.5, 0.1, 3.0, INF])
    for link in LINKS.values():
        probabilities = [math.exp(log_probability(link.code, bounds[k + 1], bounds[k])) for k in range(5)]
        assert sum(probabilities) == pytest.approx(1.0, abs=1e-14)


def test_the_two_ways_through_the_far_normal_tail_meet():
    code = LINKS["probit"].code
    near = probability_terms(code, INF, 12.0 - 1e-9)
    far = probability_terms(code, INF, 12.0 + 1e-9)
    assert far[0] == pytest.approx(near[0], abs=1e-7)
    assert far[2] == pytest.approx(near[2], rel=1e-8)
