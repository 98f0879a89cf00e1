"""One condition of a unit: how a measured quantity informs its effect on a rated channel, and vice versa.

Iron in the oil and debris in the tray are two looks at one unit. A unit's measured effect w, in sd between units, is
correlated with its effect z on the channel. Each is known with an error from its own data alone, so over units

    (z, w) has mean 0 and covariance [[1 + error of z, rho], [rho, 1 + error of w]],

whose likelihood gives the posterior of rho on a grid. Given rho, a value of w known with the error e says of z what a
reading of rho z with the variance 1 - rho^2 + e would say. Margins first, as with two channels: Joe (2005), J.
Multivar. Anal. 94, 401-419. Errors are taken as normal.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp

from draincurve.schemas.array_types import Floats

CELLS = 199
LEAST_PRECISION = 0.02
"""Under this precision, where that of the units' spread is 1, data carry no information on an effect."""


@dataclass(frozen=True, slots=True)
class KnownEffects:
    """Effects of units in sd from their own data alone: value (U,), and the variance of its error (U,).

    The variance is infinite where the data say nothing; the value is 0 then.
    """

    value: Floats
    error_variance: Floats


def known_effects(mean: Floats, variance: Floats) -> KnownEffects:
    """Effects from the data alone, given the posterior mean and variance (U,) under a standard normal prior."""
    precision = 1.0 / variance - 1.0
    informative = precision > LEAST_PRECISION
    precision = np.where(informative, precision, 1.0)
    return KnownEffects(
        np.where(informative, mean / variance / precision, 0.0), np.where(informative, 1.0 / precision, np.inf)
    )


def correlation_draws(
    rated: KnownEffects, measured: KnownEffects, *, high: float, low: float, draws: int, rng: np.random.Generator
) -> Floats:
    """Draws (S,) of the correlation of two effects of a unit, with the prior 2 Beta(high, low) - 1."""
    edges = np.linspace(-1.0, 1.0, CELLS + 1)
    rho = (edges[1:] + edges[:-1]) / 2
    both = np.isfinite(rated.error_variance) & np.isfinite(measured.error_variance)
    z, w = rated.value[both], measured.value[both]
    var_z, var_w = 1.0 + rated.error_variance[both], 1.0 + measured.error_variance[both]
    determinant = var_z * var_w - rho[:, None] ** 2
    square = (var_w * z * z - 2.0 * rho[:, None] * z * w + var_z * w * w) / determinant
    log_density = -0.5 * np.sum(np.log(determinant) + square, axis=1)
    share = (1.0 + rho) / 2.0
    log_density += (high - 1.0) * np.log(share) + (low - 1.0) * np.log1p(-share)
    mass = np.exp(log_density - logsumexp(log_density))
    marks = rng.permutation((np.arange(draws) + rng.uniform(size=draws)) / draws)
    cell = np.minimum(np.searchsorted(np.cumsum(mass), marks), CELLS - 1)
    return np.asarray(edges[cell] + rng.uniform(size=draws) * (edges[1] - edges[0]))


def coefficients_of(other: KnownEffects, correlation: Floats) -> Floats:
    """Evidence of a unit's other effect on this one, as l and q of l z - q z^2 / 2, (S, U, 2).

    correlation : (S,), of the two effects
    """
    rho = correlation[:, None]
    variance = 1.0 - rho**2 + other.error_variance
    linear, quadratic = rho * other.value / variance, rho**2 / variance
    return np.stack(np.broadcast_arrays(linear, quadratic), axis=-1)
