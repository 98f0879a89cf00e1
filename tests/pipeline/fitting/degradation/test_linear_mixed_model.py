"""The line with unit effects: likelihood, gradient, edges, and what it says where it cannot tell."""

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.special import stdtr
from scipy.stats import halfcauchy, logistic, multivariate_normal

from draincurve.pipeline.fitting.degradation.line_posterior import (
    log_posterior,
    lowers_at,
    scatter,
    unit_lines,
    working,
)
from draincurve.pipeline.fitting.degradation.linear_mixed_model import FREE, fit_degradation, fit_sums
from draincurve.pipeline.fitting.degradation.profile_likelihood import profile, restricted_deviances
from draincurve.pipeline.fitting.degradation.sums_of_units import unit_sums
from draincurve.schemas.errors import FitError


def fleet(units=12, readings=6, level=0.3, slope=0.01, noise=0.2, seed=1):
    rng = np.random.default_rng(seed)
    unit = np.repeat(np.arange(units), readings)
    clock = rng.uniform(0, 100, unit.size)
    own = rng.normal(size=(2, units))
    response = 1 + level * own[0][unit] + (0.02 + slope * own[1][unit]) * clock + noise * rng.normal(size=unit.size)
    return response, clock, unit


def dense_log_likelihood(response, clock, unit, fit, restricted):
    """By the normal density of all readings at once; the restricted one by its definition (Harville 1974)."""
    design = np.column_stack([np.ones_like(clock), clock])
    covariance = np.where(unit[:, None] == unit, design @ fit.unit_covariance @ design.T, 0.0)
    covariance += fit.residual_variance * np.eye(clock.size)
    middle = design @ fit.coefficients
    value = multivariate_normal(middle, covariance).logpdf(response)
    if not restricted:
        return value
    information = design.T @ np.linalg.solve(covariance, design)
    return value + np.log(2 * np.pi) - 0.5 * np.linalg.slogdet(information)[1]


@pytest.mark.parametrize("method", ["ML", "REML"])
def test_the_likelihood_is_the_normal_density(method):
    response, clock, unit = fleet(level=0.4)
    fit = fit_degradation(response, clock, unit=unit, method=method)
    dense = dense_log_likelihood(response, clock, unit, fit, method == "REML")
    assert fit.log_likelihood == pytest.approx(dense, abs=1e-8)


@pytest.mark.parametrize("restricted", [True, False])
@pytest.mark.parametrize("fixed", [(0, 1), (1,)])
def test_the_gradient_by_differences(restricted, fixed):
    response, clock, unit = fleet()
    sums = unit_sums(unit, clock=clock, response=response)
    at = np.array([0.9, -0.3, 0.6])
    for place in range(3):
        step = 1e-6 * np.eye(3)[place]
        ahead, back = (
            profile(sums, at + sign * step, restricted=restricted, fixed=fixed).deviance for sign in (1, -1)
        )
        assert profile(sums, at, restricted=restricted, fixed=fixed).gradient[place] == pytest.approx(
            (ahead - back) / 2e-6, rel=1e-5
        )


def test_many_deviances_at_once_are_those_of_one_at_a_time():
    response, clock, unit = fleet()
    sums = unit_sums(unit, clock=clock, response=response)
    lowers = np.random.default_rng(3).normal(size=(5, 3))
    each = np.array([profile(sums, lower, restricted=True).deviance for lower in lowers])
    assert np.diff(restricted_deviances(sums, lowers)[0]) == pytest.approx(np.diff(each), abs=1e-9)


@pytest.mark.parametrize("restricted", [True, False])
def test_a_search_leaves_the_line_without_correlation(restricted):
    """Three units with three readings, which a search from starts without correlation leaves 0.5 or more short."""
    rng = np.random.default_rng(23)
    unit, clock = np.repeat(np.arange(3), 3), np.tile([10.0, 20.0, 30.0], 3)
    slopes = 0.06 * rng.normal(size=3)
    response = 5 + 2 * rng.normal(size=3)[unit] + (0.1 + slopes[unit]) * clock + 0.5 * rng.normal(size=unit.size)
    sums = unit_sums(unit, clock=clock, response=response)
    fit = fit_sums(sums, "intercept and slope", restricted=restricted)
    best = min(
        minimize(
            lambda lower: profile(sums, lower, restricted=restricted).deviance,
            start,
            method="Nelder-Mead",
            options={"xatol": 1e-8, "fatol": 1e-10, "maxiter": 4000},
        ).fun
        for start in 3 * np.random.default_rng(1).normal(size=(20, 3))
    )
    assert fit.log_likelihood == pytest.approx(-0.5 * best, abs=1e-6)


def test_units_of_measurement_do_not_matter():
    response, clock, unit = fleet()
    first = fit_degradation(response, clock, unit=unit)
    second = fit_degradation(1000 * response, clock / 60, unit=unit)
    assert second.coefficients == pytest.approx(first.coefficients * [1000, 60_000], rel=1e-6)
    shift = (clock.size - 2) * np.log(1000) + np.log(1 / 60)
    assert second.log_likelihood == pytest.approx(first.log_likelihood - shift, abs=1e-6)


def test_a_clock_far_from_nought_loses_no_digits():
    response, clock, unit = fleet()
    near, far = fit_degradation(response, clock, unit=unit), fit_degradation(response, clock + 1e6, unit=unit)
    assert far.log_likelihood == pytest.approx(near.log_likelihood, abs=1e-6)
    assert far.coefficients[1] == pytest.approx(near.coefficients[1], rel=1e-6)


def test_units_that_do_not_differ_give_a_standard_deviation_of_zero_and_say_so():
    response, clock, unit = fleet(units=8, readings=5, level=0.0, slope=0.0, seed=4)
    fit = fit_degradation(response, clock, unit=unit)
    plain = fit_degradation(response, clock, unit=unit, structure="none")
    assert fit.singular
    assert "do not show that units differ" in fit.why
    assert fit.log_likelihood >= plain.log_likelihood - 1e-7
    assert not plain.singular


@pytest.mark.parametrize("seed", range(12))
def test_no_smaller_structure_fits_better(seed):
    rng = np.random.default_rng(seed)
    response, clock, unit = fleet(
        int(rng.integers(2, 9)), int(rng.integers(3, 6)), 0.2 * rng.random(), 0.004 * rng.random(), seed=seed
    )
    whole = fit_degradation(response, clock, unit=unit)
    assert whole.converged
    for structure in FREE:
        sums = unit_sums(unit, clock=clock, response=response)
        if structure != "uncorrelated":
            assert whole.log_likelihood >= fit_sums(sums, structure, restricted=True).log_likelihood - 1e-6


def test_one_unit_is_a_straight_line_of_its_own():
    response, clock, unit = fleet(units=1, readings=9)
    fit = fit_degradation(response, clock, unit=unit)
    assert fit.structure == "none"
    assert "one unit only" in fit.why
    assert fit.coefficients[::-1] == pytest.approx(np.polyfit(clock, response, 1))


def test_one_reading_a_unit_cannot_tell_units_from_noise():
    response, clock, unit = fleet(units=30, readings=1)
    fit = fit_degradation(response, clock, unit=unit)
    assert fit.structure == "none"
    assert "measured once only" in fit.why


def test_two_readings_a_unit_do_not_show_the_noise():
    response, clock, unit = fleet(units=5, readings=2)
    fit = fit_degradation(response, clock, unit=unit)
    assert fit.structure == "intercept"
    assert "no unit was measured three times" in fit.why
    sums = unit_sums(unit, clock=clock, response=response)
    assert sums.residual_freedom == 0
    lines = unit_lines(sums, best=fit.lower, rng=np.random.default_rng(1))
    assert (lines.residual_variance > 0).all()
    assert (lines.slope_variance[:, -1] > 0).all()


def test_units_each_at_one_clock_value_differ_in_level_only():
    rng = np.random.default_rng(2)
    unit = np.repeat(np.arange(10), 2)
    clock = np.repeat(rng.uniform(0, 50, 10), 2)
    fit = fit_degradation(rng.normal(size=10)[unit] + 0.1 * rng.normal(size=20), clock, unit=unit)
    assert fit.structure == "intercept"
    assert "no unit was measured at two different hours" in fit.why


@pytest.mark.parametrize(
    ("clock", "wording"),
    [([5.0, 5.0, 5.0, 5.0], "at the same hours"), ([1.0, 2.0], "a line needs 3 or more")],
)
def test_readings_that_cannot_carry_a_line(clock, wording):
    clock = np.array(clock)
    with pytest.raises(FitError, match=wording):
        fit_degradation(np.arange(clock.size, dtype=float), clock, unit=np.zeros(clock.size, dtype=int))


def test_parameters_come_back():
    response, clock, unit = fleet(units=4000, readings=8, seed=9)
    fit = fit_degradation(response, clock, unit=unit)
    assert fit.coefficients == pytest.approx([1.0, 0.02], abs=0.02)
    assert np.sqrt(np.diag(fit.unit_covariance)) == pytest.approx([0.3, 0.01], rel=0.05)
    assert fit.residual_variance == pytest.approx(0.04, rel=0.03)


def test_working_points_are_undone():
    lower = np.array([0.7, -0.2, 0.4])
    assert lowers_at(working(lower)[None, :])[0] == pytest.approx(lower)


def test_the_prior_is_half_cauchy_in_each_standard_deviation():
    """What the density has beside the likelihood, with the noise at its best value."""
    response, clock, unit = fleet()
    sums = unit_sums(unit, clock=clock, response=response)
    at = np.array([[-1.0, -0.5, 0.3], [0.4, -2.0, -1.0]])
    width = 2 * scatter(sums)
    deviance, noise = restricted_deviances(sums, lowers_at(at))
    spreads = np.exp(at[:, :2]) * np.sqrt(noise)[:, None]
    prior = halfcauchy(scale=width).logpdf(spreads).sum(axis=1) + np.log(spreads).sum(axis=1)
    found = log_posterior(sums, at, width=width) + 0.5 * deviance - prior - logistic.logpdf(at[:, 2])
    assert found[0] == pytest.approx(found[1])


def test_scatter_is_that_about_the_fleets_line():
    response, clock, unit = fleet()
    sums = unit_sums(unit, clock=clock, response=response)
    left = response - np.polyval(np.polyfit(clock, response, 1), clock)
    assert scatter(sums) * sums.response_scale == pytest.approx(np.sqrt(np.mean(left**2)))


@pytest.mark.parametrize("noise", [1e-2, 1e-4, 1e-6])
def test_units_that_differ_a_million_times_the_noise_keep_their_digits(noise):
    rng = np.random.default_rng(5)
    unit = np.repeat(np.arange(6), 4)
    clock = rng.uniform(0, 10, 24)
    response = rng.normal(size=6)[unit] + rng.normal(size=6)[unit] * clock + noise * rng.normal(size=24)
    sums = unit_sums(unit, clock=clock, response=response)
    fit = fit_degradation(response, clock, unit=unit)
    lines = unit_lines(sums, best=fit.lower, rng=rng)
    for place in range(6):
        mine = unit == place
        slope = np.polyfit(clock[mine], response[mine], 1)[0]
        assert lines.slope[:, place] == pytest.approx(slope, abs=5 * noise)
    assert (lines.slope_variance > 0).all()
    assert np.median(lines.residual_variance) == pytest.approx(noise**2, rel=0.8)


def test_lines_of_one_unit_are_those_of_least_squares():
    response, clock, unit = fleet(units=1, readings=8)
    sums = unit_sums(unit, clock=clock, response=response)
    lines = unit_lines(sums, best=np.zeros(3), rng=np.random.default_rng(1))
    slope, level = np.polyfit(clock, response, 1)
    assert lines.slope[:, 0] == pytest.approx(slope)
    assert lines.level[:, 0] == pytest.approx(level)
    residual = response - level - slope * clock
    spread = residual @ residual / 6 / np.sum((clock - clock.mean()) ** 2)
    assert lines.slope_variance[:, 0] == pytest.approx(spread)
    assert (lines.slope_variance[:, 1] > lines.slope_variance[:, 0]).all(), "a new unit is less sure"


def test_the_same_stream_gives_the_same_lines():
    response, clock, unit = fleet()
    sums = unit_sums(unit, clock=clock, response=response)
    first, second = (unit_lines(sums, best=np.array([1.0, 0, 1.0]), rng=np.random.default_rng(7)) for _ in range(2))
    assert np.array_equal(first.slope, second.slope)
    assert first.effective_draws is not None
    assert first.effective_draws > 100


@pytest.mark.parametrize(("units", "readings"), [(2, 4), (6, 5)])
def test_slopes_lie_where_they_are_said_to(units, readings):
    """Share inside the 80 % range over 60 small fleets: 0.8 within chance, or on the wide side."""
    inside = []
    for seed in range(60):
        rng = np.random.default_rng([units, seed])
        unit = np.repeat(np.arange(units), readings)
        clock = rng.uniform(0, 100, unit.size)
        slopes = 0.02 + 0.008 * rng.normal(size=units + 1)
        response = 1 + slopes[unit] * clock + 0.1 * rng.normal(size=unit.size)
        lines = unit_lines(unit_sums(unit, clock=clock, response=response), best=np.array([0.5, 0.0, 0.5]), rng=rng)
        at = (slopes - lines.slope) / np.sqrt(lines.slope_variance)
        chance = stdtr(lines.degrees_of_freedom, at).mean(axis=0)
        inside.append((chance[[0, -1]] >= 0.1) & (chance[[0, -1]] <= 0.9))
    own, new = np.mean(inside, axis=0)
    slack = 3 * np.sqrt(0.8 * 0.2 / 60)
    assert own > 0.8 - slack
    assert new > 0.8 - slack
