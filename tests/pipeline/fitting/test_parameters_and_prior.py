import numpy as np
import pytest
from scipy.integrate import quad

from draincurve.pipeline.fitting.links import LINKS
from draincurve.pipeline.fitting.newton import Point, maximise
from draincurve.pipeline.fitting.parameters import ParameterLayout
from draincurve.pipeline.fitting.prior import Prior, prior_for
from draincurve.schemas.settings import Priors

PLANS = {
    "likelihood": ParameterLayout(5, 3, 0, (), True, False),
    "prior": ParameterLayout(5, 6, 0, ((2, 3), (4, 5)), True, True),
    "two levels, no hours": ParameterLayout(2, 2, None, ((0, 1),), False, True),
}
EVERY_PLAN = pytest.mark.parametrize("layout", PLANS.values(), ids=PLANS.keys())


def working_of(layout, seed=0):
    return np.random.default_rng(seed).normal(size=layout.size) * 0.5


def differences(function, at, step=1e-6):
    return np.stack(
        [(function(at + step * e) - function(at - step * e)) / (2 * step) for e in np.eye(at.size)], axis=-1
    )


@EVERY_PLAN
def test_thresholds_ascend_and_rows_are_alike(layout):
    rows = np.random.default_rng(1).normal(size=(7, layout.size)) * 2
    natural = layout.natural(rows)
    assert natural.shape == (7, layout.natural_size)
    assert np.all(np.diff(natural[:, : layout.levels - 1], axis=1) > 0)
    assert np.array_equal(natural[3], layout.natural(rows[3]))
    if layout.log_scale and layout.hours_index is not None:
        assert np.all(natural[:, layout.levels - 1] > 0)


@EVERY_PLAN
def test_jacobian_and_bend_against_differences(layout):
    working = working_of(layout)
    gradient = np.random.default_rng(2).normal(size=layout.natural_size)
    assert layout.jacobian(working) == pytest.approx(differences(layout.natural, working), abs=1e-8)
    bend = differences(lambda at: layout.jacobian(at).T @ gradient, working)
    assert layout.second_order_term(working, gradient) == pytest.approx(bend, abs=1e-8)


@pytest.mark.parametrize("link", LINKS.values(), ids=LINKS.keys())
@pytest.mark.parametrize("name", ["prior", "two levels, no hours"])
def test_prior_derivatives_against_differences(name, link):
    layout = PLANS[name]
    prior = prior_for(
        layout,
        Priors(),
        link=link,
        column_scales=np.ones(layout.columns),
        column_means=np.linspace(-1, 1, layout.columns),
    )
    at = working_of(layout)
    gradient, curvature = prior.gradient_and_curvature(at)
    assert gradient == pytest.approx(differences(prior.log_density, at), abs=1e-6)
    again = differences(lambda x: prior.gradient_and_curvature(x)[0], at)
    assert np.diag(curvature) == pytest.approx(again, abs=1e-6)
    rows = np.stack((at, at + 1))
    assert prior.log_density(rows) == pytest.approx([float(prior.log_density(at)), float(prior.log_density(at + 1))])


@pytest.mark.parametrize(("sd", "half_normal"), [(0.7, np.nan), (1.0, 0.4), (1.0, 3.0)])
def test_prior_density_makes_one_and_has_the_sd_it_says(sd, half_normal):
    prior = Prior(np.array([0.3]), np.array([sd]), np.array([half_normal]))

    def moment(power, centre=0.0):
        values = [
            quad(lambda x: (x - centre) ** power * np.exp(prior.log_density(np.array([x]))), *ends)[0]
            for ends in ((-40, -8), (-8, 0), (0, 8))
        ]
        return sum(values)

    assert moment(0) == pytest.approx(1.0, abs=1e-7)
    assert np.sqrt(moment(2, moment(1))) == pytest.approx(prior.working_sd()[0], abs=1e-6)
    below = quad(lambda x: np.exp(prior.log_density(np.array([x]))), -40, prior.median[0], limit=200)[0]
    assert below == pytest.approx(0.5, abs=1e-6)


def test_priors_are_those_of_the_settings_on_the_scale_of_the_link():
    """Defaults of the settings: N(0, 5), log gap N(log 1.5, 0.7), log slope N(log 2, 0.5), N(0, 1), half-normals."""
    layout = PLANS["prior"]
    for link in LINKS.values():
        prior = prior_for(
            layout,
            Priors(),
            link=link,
            column_scales=np.array([1.0, 2.0, 1, 1, 1, 1]),
            column_means=np.array([0, 0.5, 0, 0, 0, 0]),
        )
        assert prior.mean[layout.coefficients][1] == pytest.approx(0.5 * link.scale)
        assert prior.sd[0] == pytest.approx(5 * link.scale)
        assert np.exp(prior.mean[1:4]) == pytest.approx(1.5 * link.scale)
        assert prior.sd[1:4] == pytest.approx(0.7)
        assert (np.exp(prior.mean[4]), prior.sd[4]) == pytest.approx((2 * link.scale, 0.5))
        assert prior.sd[5] == pytest.approx(2.0 * link.scale)
        assert prior.sd[6:10] == pytest.approx(1.0)
        assert prior.half_normal[10:12] == pytest.approx(0.5 * link.scale)
        assert prior.half_normal[12] == pytest.approx(link.scale)


# ---- Newton


def maximised(function, gradient, hessian, start, **options):
    def evaluate(x):
        return Point(x, function(x), gradient(x), gradient(x))

    return maximise(evaluate, lambda point: hessian(point.working), start=np.array(start, dtype=float), **options)


def test_newton_finds_the_top_from_where_the_curvature_is_the_wrong_way():
    """-(x^2 - 1)^2: convex between -0.58 and 0.58."""
    maximum = maximised(
        lambda x: -float((x[0] ** 2 - 1) ** 2),
        lambda x: np.array([-4 * x[0] * (x[0] ** 2 - 1)]),
        lambda x: np.array([[-12 * x[0] ** 2 + 4]]),
        [0.05],
    )
    assert maximum.converged
    assert maximum.point.working[0] == pytest.approx(1.0, abs=1e-9)


def test_newton_says_when_it_has_not_arrived():
    maximum = maximised(
        lambda x: float(x[0]), np.ones_like, lambda x: np.zeros((x.size, x.size)), [0.0], max_iterations=5
    )
    assert not maximum.converged
    assert maximum.iterations == 5


def test_newton_gives_up_on_a_gradient_that_points_down():
    maximum = maximised(lambda x: -float(x[0] ** 2), lambda x: 2 * x, lambda x: -2 * np.eye(x.size), [1.0])
    assert not maximum.converged
    assert maximum.point.working[0] == 1.0
