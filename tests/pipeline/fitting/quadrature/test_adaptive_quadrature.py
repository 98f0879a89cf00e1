import math

import numba
import numpy as np
import pytest
from invented_ratings import THRESHOLDS, invented_log, likelihood_of
from scipy.integrate import quad
from scipy.optimize import brentq

from draincurve.pipeline.fitting.links import LINKS
from draincurve.pipeline.fitting.quadrature.adaptive_quadrature import Drains, log_joint_density, unit_mode
from draincurve.pipeline.fitting.quadrature.rating_probability import probability_terms

SIZES = [1, 1, 1, 1, 2, 2, 2, 100, 1000]
EVERY_LINK = pytest.mark.parametrize("link", LINKS)


@pytest.fixture(scope="module")
def log():
    return invented_log(SIZES)


def differenced_gradient(likelihood, natural, step=1e-3):
    """Central differences of fourth order."""
    found = []
    for j in range(natural.size):
        total = 0.0
        for times, weight in ((-2, 1), (-1, -8), (1, 8), (2, -1)):
            moved = natural.copy()
            moved[j] += times * step
            total += weight * likelihood.value_and_gradient(moved)[0]
        found.append(total / (12 * step))
    return np.array(found)


@pytest.mark.parametrize("nodes", [1, 3, 9, 25])
@EVERY_LINK
def test_gradient_against_differences(log, link, nodes):
    likelihood, natural = likelihood_of(log, link, nodes)
    gradient = likelihood.value_and_gradient(natural)[1]
    assert gradient == pytest.approx(differenced_gradient(likelihood, natural), rel=1e-6, abs=1e-5)


@pytest.mark.parametrize("nodes", [1, 9])
@EVERY_LINK
def test_gradient_at_a_large_spread_and_at_none(link, nodes):
    """Few rows a unit, where the nodes move most with the parameters."""
    small = invented_log([1, 2, 3, 5, 8], seed=4)
    likelihood, natural = likelihood_of(small, link, nodes)
    for unit_sd in (0.0, 0.01, 2.5, 5.0):
        natural[-1] = unit_sd
        gradient = likelihood.value_and_gradient(natural)[1]
        assert gradient == pytest.approx(differenced_gradient(likelihood, natural), rel=1e-5, abs=1e-5)


def exact_log_likelihood(likelihood, natural, unit):
    drains = likelihood.drains(natural)
    first, last = likelihood.slices.starts[unit : unit + 2]
    mode, curvature = unit_mode(drains, first, last, 0.0)
    top = log_joint_density(drains, first, last, mode)
    width = 1 / math.sqrt(curvature)
    total = 0.0
    for left, right in ((-40, -8), (-8, 0), (0, 8), (8, 40)):
        total += quad(
            lambda z: math.exp(log_joint_density(drains, first, last, z) - top),
            mode + left * width,
            mode + right * width,
            epsabs=0,
            epsrel=1e-11,
            limit=200,
        )[0]
    return top + math.log(total) - 0.5 * math.log(2 * math.pi)


@EVERY_LINK
def test_log_likelihood_against_integration_unit_by_unit(link):
    """Units of 1, 2, 100 and 1,000 rows: the nodes are centred and scaled on each unit, so all come out right."""
    for size in (1, 2, 100, 1000):
        log = invented_log([size], seed=size)
        for nodes, tolerance in ((9, 2e-4), (25, 1e-6)):
            likelihood, natural = likelihood_of(log, link, nodes)
            found = likelihood.value_and_gradient(natural)[0]
            assert found == pytest.approx(exact_log_likelihood(likelihood, natural, 0), abs=tolerance, rel=0)


@EVERY_LINK
def test_more_nodes_come_nearer(log, link):
    values = {}
    for nodes in (1, 9, 25):
        likelihood, natural = likelihood_of(log, link, nodes)
        values[nodes] = likelihood.value_and_gradient(natural)[0]
    exact = sum(exact_log_likelihood(likelihood, natural, unit) for unit in range(len(SIZES)))
    errors = [abs(values[nodes] - exact) for nodes in (1, 9, 25)]
    assert errors[0] > errors[1] > errors[2]
    assert errors[1] < 5e-4
    assert errors[2] < 1e-6


@EVERY_LINK
def test_louis_hessian_is_the_differenced_gradient(log, link):
    likelihood, natural = likelihood_of(log, link, 25)
    analytic = likelihood.hessian(natural)
    differenced = likelihood.differenced_hessian(natural)
    assert analytic == pytest.approx(analytic.T)
    assert analytic == pytest.approx(differenced, rel=1e-4, abs=1e-3)


@EVERY_LINK
def test_few_nodes_take_the_differenced_hessian(link):
    likelihood, natural = likelihood_of(invented_log([3] * 8), link, 3)
    assert likelihood.hessian(natural) == pytest.approx(likelihood.differenced_hessian(natural), abs=1e-6)
    assert np.linalg.eigvalsh(likelihood.hessian(natural))[-1] < 0


def test_the_sum_does_not_depend_on_the_number_of_threads():
    log = invented_log([1, 2, 3, 4, 5] * 60, seed=9)
    results = []
    before = numba.get_num_threads()
    try:
        for threads in (1, 2):
            numba.set_num_threads(min(threads, numba.config.NUMBA_NUM_THREADS))
            likelihood, natural = likelihood_of(log, "logit", 9)
            value, gradient = likelihood.value_and_gradient(natural)
            hessian = likelihood.hessian(natural)
            draws = likelihood.of_draws(np.tile(natural, (7, 1)) + 0.01 * np.arange(7)[:, None])
            results.append((value, gradient.tobytes(), hessian.tobytes(), draws.tobytes()))
    finally:
        numba.set_num_threads(before)
    assert results[0] == results[1]


@EVERY_LINK
def test_draws_have_the_likelihood_of_the_fit(log, link):
    likelihood, natural = likelihood_of(log, link, 9)
    rng = np.random.default_rng(5)
    draws = natural + 0.05 * rng.normal(size=(6, natural.size))
    one_by_one = [likelihood.value_and_gradient(draw)[0] for draw in draws]
    assert likelihood.of_draws(draws) == pytest.approx(one_by_one, abs=1e-6)


@pytest.mark.parametrize("start", [-3.0, 0.0, 0.4, 6.0])
@pytest.mark.parametrize("unit_sd", [0.1, 1.0, 2.0, 3.0, 5.0, 10.0])
@pytest.mark.parametrize("rows", [1, 10, 1000])
@EVERY_LINK
def test_mode_is_found_from_anywhere(link, rows, unit_sd, start):
    """Where effects are large the sides of the density are nearly straight, and free Newton steps never settle."""
    code = LINKS[link].code
    bounds = np.concatenate(([-np.inf], THRESHOLDS, [np.inf]))
    for middle in (0.0, 0.5, 1.5):
        level = np.full(rows, 2, dtype=np.int64)
        drains = Drains(code, level, level, bounds, np.full(rows, -unit_sd * middle), unit_sd)

        def slope(z, middle=middle):
            eta = unit_sd * (z - middle)
            parts = probability_terms(code, bounds[2] - eta, bounds[1] - eta)
            return -z - rows * unit_sd * (parts[1] + parts[2])

        mode, curvature = unit_mode(drains, 0, rows, start)
        assert mode == pytest.approx(brentq(slope, -30, 30, xtol=1e-13), abs=1e-8)
        assert curvature == pytest.approx(-(slope(mode + 1e-6) - slope(mode - 1e-6)) / 2e-6, rel=1e-4)
