import numpy as np
import pytest

from draincurve.pipeline.fitting.joint.measured_effects import (
    KnownEffects,
    coefficients_of,
    correlation_draws,
    known_effects,
)


def looks(units, rho, error, seed):
    """Two correlated effects of units, each seen with an error of this variance."""
    rng = np.random.default_rng(seed)
    z, own = rng.standard_normal((2, units))
    w = rho * z + np.sqrt(1 - rho**2) * own
    errors = np.sqrt(error) * rng.standard_normal((2, units))
    return [KnownEffects(effect + e, np.full(units, error)) for effect, e in zip((z, w), errors, strict=True)]


def test_the_data_alone_are_had_back_from_a_posterior():
    """A value of 1.2 with variance 0.5 and a standard normal prior: mean 1.2 / 1.5, variance 0.5 / 1.5."""
    found = known_effects(np.array([0.8, 0.0]), np.array([1 / 3, 1.0]))
    assert found.value == pytest.approx([1.2, 0.0])
    assert found.error_variance[0] == pytest.approx(0.5)
    assert found.error_variance[1] == np.inf


@pytest.mark.parametrize("rho", [0.0, 0.5, 0.9])
def test_ranges_of_the_correlation_hold_it_as_often_as_they_say(rho):
    """80 fleets of 30 units: a range of 80 % holds the truth in 64, give or take three sds of 3.6 (flat prior)."""
    held = 0
    for seed in range(80):
        draws = correlation_draws(
            *looks(30, rho, 0.3, seed), high=1, low=1, draws=400, rng=np.random.default_rng(seed)
        )
        low, high = np.quantile(draws, (0.1, 0.9))
        held += low <= rho <= high
    assert 53 <= held <= 75


def test_units_without_a_second_look_leave_the_prior():
    nothing = KnownEffects(np.zeros(5), np.full(5, np.inf))
    draws = correlation_draws(nothing, nothing, high=2, low=1, draws=20_000, rng=np.random.default_rng(1))
    assert draws.mean() == pytest.approx(1 / 3, abs=0.01)  # of 2 Beta(2, 1) - 1
    assert draws.std() == pytest.approx(2 * np.sqrt(2 / 36), abs=0.01)
    assert coefficients_of(nothing, draws[:3]) == pytest.approx(np.zeros((3, 5, 2)))


def test_what_one_effect_says_of_the_other_is_the_conditional_normal():
    """Prior of z standard normal, w seen as 1.5 with error variance 0.2: by the regression of z on what was seen."""
    rho, error, seen = 0.7, 0.2, 1.5
    ((linear, quadratic),) = coefficients_of(KnownEffects(np.array([seen]), np.array([error])), np.array([rho]))[0]
    assert linear / (1 + quadratic) == pytest.approx(rho * seen / (1 + error))
    assert 1 / (1 + quadratic) == pytest.approx(1 - rho**2 / (1 + error))
