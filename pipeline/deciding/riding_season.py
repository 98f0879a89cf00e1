"""The seasonal curve of a site's riding: how busy each week of the year was, and how busy the weeks ahead may be.

The site's hours by week are a quasi-Poisson regression on the first three harmonics of the year. How strong the
season is, is not known beforehand: the harmonics have a normal prior whose sd is one of SEASON_SDS (0 is no season),
weighted by Laplace's approximation to the marginal likelihood. Draws from this posterior carry the doubt about weeks
of the year that the log has not seen; a site without a season has a flat curve.
Reference: McCullagh & Nelder (1989), Generalized Linear Models, ch. 9 (quasi-likelihood).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from draincurve.schemas.array_types import Floats

WEEKS_OF_YEAR = 52
YEAR_WEEKS = 365.25 / 7
CURVES = 16
"""Seasonal curves drawn for each site."""

HARMONICS = 3
SEASON_SDS = (0.3, 0.6, 1.2)
"""Prior sd of the first harmonic of the log rate, beside none; that of the k-th is a k-th of it (our choice)."""

FEWEST_WEEKS = 6
LONGEST_STEP = 0.7


class _Fit(NamedTuple):
    """Mode and precision of the coefficients, log marginal likelihood, and dispersion [h]."""

    mode: Floats
    precision: Floats
    evidence: float
    dispersion: float


def site_seasonal_curves(hours: Floats, unit_weeks: Floats, *, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Log of the site's rate, but for a constant: (curves, ages) of the weeks seen, (curves, weeks) of those ahead.

    hours, unit_weeks : (WEEKS_OF_YEAR,), hours [h] of the site and its units in the log by the week's age, 0 the last
    """
    ages = np.arange(WEEKS_OF_YEAR, dtype=np.float64) + 0.5
    seen, ahead = _harmonics(-ages), _harmonics(ages)
    coefficients = _drawn_coefficients(seen, hours, unit_weeks, rng)[:, 1:]
    return coefficients @ seen[:, 1:].T, coefficients @ ahead[:, 1:].T


def _harmonics(weeks: Floats) -> Floats:
    """Intercept, and cosine and sine of each harmonic, (n, 1 + 2 HARMONICS)."""
    angle = 2 * np.pi / YEAR_WEEKS * weeks[:, None] * np.arange(1, HARMONICS + 1)
    return np.hstack([np.ones((weeks.size, 1)), np.cos(angle), np.sin(angle)])


def _drawn_coefficients(basis: Floats, hours: Floats, unit_weeks: Floats, rng: np.random.Generator) -> Floats:
    """Draws from the posterior, (CURVES, 1 + 2 HARMONICS), zero where there is no season or too few weeks."""
    known = unit_weeks > 0
    drawn = np.zeros((CURVES, basis.shape[1]))
    if known.sum() < FEWEST_WEEKS or hours[known].sum() <= 0:
        return drawn
    x, y, exposure = basis[known], hours[known], unit_weeks[known]
    dispersion = _fit(x, y, exposure, sd=SEASON_SDS[-1]).dispersion
    flat = _fit(x[:, :1], y, exposure, sd=1.0, dispersion=dispersion)
    seasonal = [_fit(x, y, exposure, sd=sd, dispersion=dispersion) for sd in SEASON_SDS]
    evidence = np.array([fit.evidence for fit in (flat, *seasonal)])
    share = np.cumsum(np.exp(evidence - evidence.max()))
    which = np.searchsorted(share / share[-1], (np.arange(CURVES) + 0.5) / CURVES)
    normal = rng.standard_normal(drawn.shape)
    for draw, model in enumerate(which):
        if model > 0:
            fit = seasonal[model - 1]
            drawn[draw] = fit.mode + np.linalg.solve(np.linalg.cholesky(fit.precision).T, normal[draw])
    return rng.permutation(drawn)


def _fit(x: Floats, y: Floats, exposure: Floats, *, sd: float, dispersion: float | None = None) -> _Fit:
    """Penalised quasi-Poisson regression by Newton's method; the dispersion is estimated where none is given."""
    order = np.tile(np.arange(1, HARMONICS + 1), 2)[: x.shape[1] - 1]
    penalty = np.concatenate([[0.0], np.square(order / sd)])
    coefficients = np.zeros(x.shape[1])
    coefficients[0] = np.log(y.sum() / exposure.sum())
    scale = float(y.mean()) if dispersion is None else dispersion
    for _ in range(60):
        mean = exposure * np.exp(np.clip(x @ coefficients, -12, 12))
        information = (x * mean[:, None]).T @ x / scale
        precision = information + np.diag(penalty)
        step = np.linalg.solve(precision, x.T @ (y - mean) / scale - penalty * coefficients)
        coefficients += np.clip(step, -LONGEST_STEP, LONGEST_STEP)
        if dispersion is None:
            freedom = max(y.size - float(np.trace(np.linalg.solve(precision, information))), 1.0)
            # A week of next to no expected riding must not decide the dispersion.
            pearson = float((np.square(y - mean) / np.maximum(mean, 0.05 * mean.mean())).sum())
            scale = max(pearson / freedom, 1e-6 * float(y.mean()))
        if np.abs(step).max() < 1e-7:
            break
    fit = float((y * np.log(mean) - mean).sum()) / scale - 0.5 * float((penalty * coefficients**2).sum())
    volume = 0.5 * float(np.log(penalty[1:]).sum()) - 0.5 * float(np.linalg.slogdet(precision)[1])
    return _Fit(coefficients, precision, fit + volume, scale)
