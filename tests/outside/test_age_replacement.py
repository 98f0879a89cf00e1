"""Age replacement against published and derived values.

Source of the condition: Barlow & Hunter (1960), Optimum preventive maintenance policies, Oper. Res. 8, 90-100.
Weibull values: computed from that condition with scipy's brentq and checked against an independent grid search to
about 0.1 %. All values, and how each is known, are taken over from the project's collection of references.
Uniform values: derived by hand, T = b (sqrt(r^2 + 2 r) - r) with r = preventive / (failure - preventive).
No optimum at a constant or falling hazard: theory, as summarised by Li, Nakagawa et al. (2022).
"""

from __future__ import annotations

import math

import pytest
from age_replacement import age_replacement_optimum

WEIBULL = [  # shape, life, preventive, failure, optimal age, cost per hour, surviving share at the optimum
    (2.5, 100.0, 1.0, 5.0, 49.30469475966341, 0.03462042738789268, 0.8430787036561778),
    (3.0, 50.0, 1.0, 10.0, 19.122776557149, 0.07898700598300384, 0.9455933880582529),
    (1.5, 1000.0, 2.0, 30.0, 278.6009816491227, 0.0221687196659855, 0.863248202243826),
]


def weibull(shape: float, life: float):
    def survival(age: float) -> float:
        return math.exp(-((age / life) ** shape))

    def hazard(age: float) -> float:
        return shape / life * (age / life) ** (shape - 1.0)

    return survival, hazard


@pytest.mark.parametrize(("shape", "life", "preventive", "failure", "age", "cost", "surviving"), WEIBULL)
def test_weibull_lives(shape, life, preventive, failure, age, cost, surviving):
    survival, hazard = weibull(shape, life)
    found = age_replacement_optimum(survival, hazard, preventive, failure, life)
    assert found.age == pytest.approx(age, rel=1e-6)
    assert found.cost_per_hour == pytest.approx(cost, rel=1e-9)
    assert survival(found.age) == pytest.approx(surviving, rel=1e-6)
    assert found.why == ""


@pytest.mark.parametrize(("preventive", "failure"), [(1.0, 5.0), (1.0, 1.2), (3.0, 100.0)])
def test_uniform_lives_have_a_closed_form(preventive, failure):
    ratio = preventive / (failure - preventive)
    age = 100.0 * (math.sqrt(ratio**2 + 2 * ratio) - ratio)
    found = age_replacement_optimum(
        lambda t: max(0.0, 1.0 - t / 100.0), lambda t: 1.0 / (100.0 - t), preventive, failure, 100.0
    )
    assert found.age == pytest.approx(age, rel=1e-9)
    if (preventive, failure) == (1.0, 5.0):
        assert found.age == pytest.approx(50.0, rel=1e-9)
        assert found.cost_per_hour == pytest.approx(0.08, rel=1e-9)


@pytest.mark.parametrize("shape", [1.0, 0.8])
def test_a_hazard_that_does_not_rise_has_no_finite_optimum(shape):
    survival, hazard = weibull(shape, 100.0)
    found = age_replacement_optimum(survival, hazard, 1.0, 5.0, 100.0)
    assert math.isinf(found.age)
    assert "does not rise" in found.why
    mean_life = 100.0 * math.gamma(1.0 + 1.0 / shape)
    assert found.cost_per_hour == pytest.approx(5.0 / mean_life, rel=1e-6)
