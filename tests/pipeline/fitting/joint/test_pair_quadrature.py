"""A unit's two effects: the integral against SciPy's, against one effect at a time, and missing ratings."""

import math

import numpy as np
import pytest
from scipy.integrate import dblquad, quad
from scipy.special import roots_hermite
from scipy.stats import norm

from draincurve.pipeline.fitting.joint.pair_quadrature import fill_bounds, log_density, unit_log_likelihood
from draincurve.pipeline.fitting.links import LINKS, link_named

LEVELS = 5
BOUNDS = np.array([-np.inf, -1.5, 0.0, 1.4, 3.0, np.inf])
SDS = np.array([0.9, 1.4])


def rule(nodes: int) -> tuple[np.ndarray, np.ndarray]:
    x, weights = roots_hermite(nodes)
    return np.ascontiguousarray(x), np.log(weights) + x**2


def factors_of(link: str, ratings: np.ndarray, fixed: np.ndarray) -> np.ndarray:
    """Factors of ratings (2, 2, N): lowest and highest of each channel; fixed (2, N)."""
    rows = np.arange(fixed.shape[1])
    found = np.empty((4, fixed.shape[1]))
    for side in range(2):
        low, high = ratings[side]
        fill_bounds(link_named(link).code, BOUNDS, fixed[side], high, rows, found[2 * side])
        fill_bounds(link_named(link).code, BOUNDS, fixed[side], low - 1, rows, found[2 * side + 1])
    return found


def unit_of(seed: int, drains: int = 6) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    levels = rng.integers(1, LEVELS + 1, (2, drains))
    return np.stack((levels, levels), axis=1), rng.normal(0.5, 1.0, (2, drains))


def value(link: str, factors: np.ndarray, rho: float, odds_ratio: float, *, nodes: int) -> float:
    drains = factors.shape[1]
    return unit_log_likelihood(
        link_named(link).code, factors, 0, drains, SDS, rho, odds_ratio, np.zeros(4), np.zeros(2), *rule(nodes)
    )


@pytest.mark.parametrize("link", sorted(LINKS))
@pytest.mark.parametrize(("rho", "odds_ratio"), [(0.0, 1.0), (0.6, 6.0), (-0.4, 0.3)])
def test_the_integral_is_scipys(link: str, rho: float, odds_ratio: float) -> None:
    factors = factors_of(link, *unit_of(3))
    code, normalised = link_named(link).code, 2 * math.pi * math.sqrt(1 - rho**2)

    def density(z2: float, z1: float) -> float:
        normal = -(z1**2 - 2 * rho * z1 * z2 + z2**2) / (2 * (1 - rho**2))
        return math.exp(normal + log_density(code, factors, 0, 6, SDS * (z1, z2), odds_ratio)) / normalised

    whole = dblquad(density, -7, 7, -7, 7, epsabs=1e-12, epsrel=1e-9)[0]
    assert value(link, factors, rho, odds_ratio, nodes=25) == pytest.approx(math.log(whole), abs=1e-4)
    assert value(link, factors, rho, odds_ratio, nodes=3) == pytest.approx(math.log(whole), abs=2e-2)


@pytest.mark.parametrize("link", sorted(LINKS))
def test_without_correlation_and_association_it_is_the_sum_of_the_channels(link: str) -> None:
    ratings, fixed = unit_of(5)
    shape = link_named(link)
    parts = []
    for side in range(2):

        def density(z: float, side: int = side) -> float:
            eta = fixed[side] + SDS[side] * z
            low, high = ratings[side]
            return norm.pdf(z) * np.prod(shape.cdf(BOUNDS[high] - eta) - shape.cdf(BOUNDS[low - 1] - eta))

        parts.append(math.log(quad(density, -9, 9, epsabs=1e-14, epsrel=1e-10)[0]))
    assert value(link, factors_of(link, ratings, fixed), 0.0, 1.0, nodes=15) == pytest.approx(sum(parts), abs=1e-5)


@pytest.mark.parametrize("odds_ratio", [1.0, 7.0])
def test_at_a_correlation_of_one_both_channels_share_one_effect(odds_ratio: float) -> None:
    factors = factors_of("logit", *unit_of(7))

    def density(z: float) -> float:
        return norm.pdf(z) * math.exp(log_density(0, factors, 0, 6, SDS * z, odds_ratio))

    whole = math.log(quad(density, -9, 9, epsabs=1e-14, epsrel=1e-10)[0])
    assert value("logit", factors, 1.0, odds_ratio, nodes=21) == pytest.approx(whole, abs=1e-5)
    assert value("logit", factors, 1 - 1e-9, odds_ratio, nodes=21) == pytest.approx(whole, abs=1e-4)


@pytest.mark.parametrize("link", sorted(LINKS))
def test_a_channel_without_a_rating_says_nothing(link: str) -> None:
    """Drains rated on the first channel only, at any odds ratio and correlation: the first channel's likelihood."""
    ratings, fixed = unit_of(9)
    ratings[1, 0], ratings[1, 1] = 1, LEVELS
    found = [value(link, factors_of(link, ratings, fixed), *pair, nodes=15) for pair in ((0.0, 1.0), (0.9, 12.0))]
    alone = value(link, factors_of(link, ratings, fixed), 0.0, 1.0, nodes=25)
    assert found == pytest.approx([alone, alone], abs=1e-6)
