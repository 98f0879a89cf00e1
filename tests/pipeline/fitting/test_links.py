import mpmath
import numpy as np
import pytest

from draincurve.pipeline.fitting.links import CLOGLOG, LINKS, LOGIT, PROBIT, link_named
from draincurve.schemas.errors import FitError

X = np.linspace(-6.0, 6.0, 97)
EVERY_LINK = pytest.mark.parametrize("link", LINKS.values(), ids=LINKS.keys())


@EVERY_LINK
def test_quantile_is_the_inverse(link):
    p = np.array([1e-12, 1e-6, 0.01, 0.3, 0.5, 0.9, 0.999, 1 - 1e-9])
    assert link.cdf(link.quantile(p)) == pytest.approx(p, rel=1e-7)
    x = np.linspace(-3.0, 5.0, 33)
    assert link.quantile(link.cdf(x)) == pytest.approx(x, abs=1e-8)


@EVERY_LINK
def test_derivatives_agree_with_differences(link):
    step = 1e-5
    first = (link.cdf(X + step) - link.cdf(X - step)) / (2 * step)
    second = (link.pdf(X + step) - link.pdf(X - step)) / (2 * step)
    assert link.pdf(X) == pytest.approx(first, abs=1e-9)
    assert link.pdf_slope(X) == pytest.approx(second, abs=1e-9)


@EVERY_LINK
def test_survival_and_cdf_make_one(link):
    assert link.cdf(X) + link.survival(X) == pytest.approx(1.0, abs=1e-15)
    assert np.all(np.diff(link.cdf(X)) > 0)


@EVERY_LINK
def test_both_together_are_those_apart(link):
    far = np.concatenate((X, [-np.inf, -800.0, -40.0, 40.0, 800.0, np.inf]))
    survival, density = link.survival_and_pdf(far)
    assert survival == pytest.approx(link.survival(far), rel=1e-13, abs=1e-300)
    assert density == pytest.approx(link.pdf(far), rel=1e-13, abs=1e-300)


@EVERY_LINK
def test_tails_stay_finite_and_ordered(link):
    far = np.array([-1e4, -800.0, -100.0, 100.0, 800.0, 1e4])
    for values in (link.cdf(far), link.survival(far), link.pdf(far), link.pdf_slope(far)):
        assert np.all(np.isfinite(values))
    assert link.cdf(far)[[0, -1]].tolist() == [0.0, 1.0]
    assert link.survival(far)[[0, -1]].tolist() == [1.0, 0.0]


@EVERY_LINK
def test_upper_tail_keeps_its_digits(link):
    """Against mpmath at 50 digits."""
    with mpmath.workdps(50):
        x = mpmath.mpf(30)
        exact = {
            "logit": 1 / (1 + mpmath.exp(x)),
            "probit": mpmath.ncdf(-x),
            "cloglog": -mpmath.expm1(-mpmath.exp(-x)),
        }[link.name]
        assert float(link.survival(30.0)) == pytest.approx(float(exact), rel=1e-12)


@EVERY_LINK
def test_standard_deviation_is_that_of_the_distribution(link):
    x = np.linspace(-60, 60, 240_001)
    weight = link.pdf(x) * (x[1] - x[0])
    mean = np.sum(weight * x)
    assert np.sqrt(np.sum(weight * (x - mean) ** 2)) == pytest.approx(link.standard_deviation, rel=1e-8)
    assert link.scale == pytest.approx(link.standard_deviation * np.sqrt(3) / np.pi)


def test_codes_are_those_the_kernels_know():
    assert {name: link.code for name, link in LINKS.items()} == {"logit": LOGIT, "probit": PROBIT, "cloglog": CLOGLOG}


def test_the_weibull_link_is_the_one_of_the_contract():
    """P(rating >= k) = 1 - exp(-exp(eta - cut))."""
    assert float(link_named("cloglog").survival(-0.7)) == pytest.approx(1 - np.exp(-np.exp(0.7)))


def test_an_unknown_link_is_named_with_the_possible_ones():
    with pytest.raises(FitError, match="'loglog': expected one of logit, probit, cloglog"):
        link_named("loglog")
