"""Lines with unit effects where some readings are only known to be under or over a bound: fit and posterior.

The same model, priors and result as in `linear_mixed_model` and `line_posterior`, from the marginal likelihood of
`censored_likelihood`. The parameters of a large fleet are estimated from some of its units, since they are known to a
few percent then; every unit's own line is computed in any case.
"""

from __future__ import annotations

from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from draincurve.pipeline.fitting.degradation.censored_likelihood import (
    CensoredReadings,
    censored_readings,
    log_likelihoods,
    unit_posteriors,
    value_and_gradient,
)
from draincurve.pipeline.fitting.degradation.line_posterior import (
    MANY_UNITS,
    PRIOR_WIDTH,
    STARTS,
    UnitLines,
    draws_kept,
    log_prior,
    lowers_at,
    scatter,
    working,
)
from draincurve.pipeline.fitting.degradation.linear_mixed_model import (
    FEWEST_READINGS,
    FREE,
    DegradationFit,
    Structure,
    feasible_structure,
    is_singular,
)
from draincurve.pipeline.fitting.degradation.sampled_posterior import resampled, weighted_draws
from draincurve.pipeline.fitting.thread_limits import one_thread
from draincurve.schemas.array_types import Floats
from draincurve.schemas.errors import FitError

MOST_UNITS, MOST_SAMPLED_UNITS = 1_000, 100
"""Most units from which the parameters are estimated, and most for which their posterior is sampled in full; larger
fleets have the normal distribution at the estimate, and those of MANY_UNITS the estimate alone."""
LEAST_INFORMATION = 10.0
"""Least information in any direction, on the scale of the sums: a standard deviation of about 0 carries little."""
NO_LIMIT = 10**9
"""Degrees of freedom of a normal distribution: the draws already carry the uncertainty of the noise."""
DIFFERENCE = 1e-4
LOWEST_LOG_SD, HIGHEST_LOG_SD = -12.0, 6.0


def fit_censored(
    response: Floats,
    clock: Floats,
    *,
    unit: NDArray[np.integer],
    side: NDArray[np.integer],
    rng: np.random.Generator,
    structure: Structure = "intercept and slope",
) -> tuple[DegradationFit, UnitLines]:
    """The fit by maximum likelihood, and every unit's line with its whole uncertainty.

    response, clock : (n,); unit : (n,), whole numbers from 0, each in use; side : (n,), -1 where a reading is only
    known to be under `response`, 1 where over it, else 0. Raises FitError with the reason where fewer than 3 readings
    were measured, or all at one clock value.
    """
    measured = side == 0
    if int(measured.sum()) < FEWEST_READINGS:
        raise FitError(
            f"{int(measured.sum())} readings were measured, the others are only known to be under or over a bound; "
            f"a line needs {FEWEST_READINGS} or more"
        )
    if np.ptp(clock[measured]) == 0.0:
        raise FitError("every measured reading was taken at the same hours, so growth with hours cannot be told")
    readings = censored_readings(response, clock, unit=unit, side=side)
    structure, why = feasible_structure(structure, unit, clock=clock)
    sample = _some_units(readings, rng)
    with one_thread():
        fit, mode = _best(sample, structure, why)
        return fit, _lines(readings, sample, mode, structure, rng)


def _some_units(readings: CensoredReadings, rng: np.random.Generator) -> CensoredReadings:
    """The readings of at most MOST_UNITS units, drawn at random."""
    units = readings.first.size
    if units <= MOST_UNITS:
        return readings
    kept = np.zeros(units, dtype=bool)
    kept[rng.choice(units, MOST_UNITS, replace=False)] = True
    return readings.of_units(kept)


def _best(readings: CensoredReadings, structure: Structure, why: str) -> tuple[DegradationFit, Floats]:
    """The maximum of the likelihood, and its point on the scale of the sums."""
    free = np.array([0, 1, 2, *(3 + entry for entry in FREE[structure])])

    def at(part: Floats) -> tuple[float, Floats]:
        point = np.zeros(6)
        point[free] = part
        value, gradient = value_and_gradient(readings, point)
        return -value, -gradient[free]

    bounds = [(None, None), (None, None), (LOWEST_LOG_SD, HIGHEST_LOG_SD)]
    bounds += [(None, None) if entry == 1 else (0.0, None) for entry in FREE[structure]]
    start = np.append(_start(readings), [0.0 if entry == 1 else 0.7 for entry in FREE[structure]])
    done = minimize(at, start, jac=True, method="L-BFGS-B", bounds=bounds, options={"maxiter": 300, "ftol": 1e-13})
    point = np.zeros(6)
    point[free] = done.x
    return _rescaled(readings, point, structure, converged=bool(done.success), why=why), point


def _start(readings: CensoredReadings) -> Floats:
    """b0, b1 and log s of a line through the readings, bounds taken at face value."""
    slope, level = np.polyfit(readings.x, readings.y, 1)
    noise = float(np.std(readings.y - level - slope * readings.x))
    return np.array([level, slope, np.log(max(noise, 1e-3))])


def _rescaled(
    readings: CensoredReadings, point: Floats, structure: Structure, *, converged: bool, why: str
) -> DegradationFit:
    """The fit on the scale of the readings, with the intercept at clock 0."""
    sums, lower = readings.sums, point[3:]
    back, variance = sums.line_scale, float(np.exp(2.0 * point[2]))
    triangle = np.array([[lower[0], 0.0], [lower[1], lower[2]]])
    free = np.array([0, 1, 2, *(3 + entry for entry in FREE[structure])])
    inverse = np.linalg.pinv(_information(readings, point, free), hermitian=True)[:2, :2]
    errors = np.sqrt(np.maximum(np.diag(back @ inverse @ back.T), 0.0))
    value = float(log_likelihoods(readings, point[None, :])[0])
    measured = int((readings.side == 0).sum())
    singular = is_singular(lower, structure)
    if singular and not why:
        why = "the readings do not show that units differ both in level and in growth"
    return DegradationFit(
        structure=structure,
        coefficients=back @ point[:2] + [sums.response_shift, 0.0],
        standard_errors=errors,
        unit_covariance=variance * (back @ triangle @ triangle.T @ back.T),
        residual_variance=variance * sums.response_scale**2,
        log_likelihood=value - measured * float(np.log(sums.response_scale)),
        lower=lower,
        converged=converged,
        singular=singular,
        why=why,
    )


def _information(readings: CensoredReadings, point: Floats, free: NDArray[np.integer]) -> Floats:
    """Negative second derivatives of the log likelihood by the free entries, by differences of its gradient."""
    steps = DIFFERENCE * np.eye(6)[free]
    rows = [
        value_and_gradient(readings, point - step)[1][free] - value_and_gradient(readings, point + step)[1][free]
        for step in steps
    ]
    matrix = np.array(rows) / (2.0 * DIFFERENCE)
    return 0.5 * (matrix + matrix.T)


def _normal_draws(
    readings: CensoredReadings, mode: Floats, free: NDArray[np.integer], rng: np.random.Generator
) -> Floats:
    """Draws (K, 6) of the normal distribution at the estimate."""
    eigenvalues, vectors = np.linalg.eigh(_information(readings, mode, free))
    root = vectors / np.sqrt(np.maximum(eigenvalues, LEAST_INFORMATION))
    points = np.repeat(mode[None, :], draws_kept(readings.first.size), axis=0)
    points[:, free] += rng.standard_normal((points.shape[0], free.size)) @ root.T
    return points


def _lines(
    readings: CensoredReadings, sample: CensoredReadings, mode: Floats, structure: Structure, rng: np.random.Generator
) -> UnitLines:
    """Lines of every unit and of a new one, a mixture over draws of the parameters."""
    if readings.first.size >= MANY_UNITS:
        return _mixture(readings, mode[None, :], effective=None)
    if sample.first.size > MOST_SAMPLED_UNITS:
        free = np.array([0, 1, 2, *(3 + entry for entry in FREE[structure])])
        return _mixture(readings, _normal_draws(sample, mode, free, rng), effective=None)
    log_density = partial(_log_posterior, sample, width=PRIOR_WIDTH * scatter(sample.sums))
    starts = np.vstack([np.append(mode[:3], lower) for lower in (working(mode[3:]), *STARTS)])
    points, smoothed = weighted_draws(log_density, starts, rng=rng)
    kept = resampled(points, smoothed.weights, count=draws_kept(readings.first.size))
    return _mixture(readings, _natural(kept), effective=smoothed.effective_sample_size)


def _log_posterior(readings: CensoredReadings, points: Floats, *, width: float) -> Floats:
    """Log density at points (S, 6): b0, b1, log s, flat in these three, and the working point of `line_posterior`.

    A point far from every reading gets no weight, since the quadrature is inaccurate there.
    """
    values = log_likelihoods(readings, _natural(points)) + log_prior(points[:, 3:], np.exp(points[:, 2]), width=width)
    return np.where(np.isfinite(values), values, -1e12)


def _natural(points: Floats) -> Floats:
    return np.hstack((points[:, :3], lowers_at(points[:, 3:])))


def _mixture(readings: CensoredReadings, points: Floats, *, effective: float | None) -> UnitLines:
    """Lines given each of some points (K, 6), in the readings' own units."""
    sums, back = readings.sums, readings.sums.line_scale
    shape = (points.shape[0], readings.first.size + 1)
    level, slope, level_variance, covariance, slope_variance = (np.empty(shape) for _ in range(5))
    for draw, point in enumerate(points):
        mean, within = unit_posteriors(readings, point)
        turn = np.exp(point[2]) * np.array([[point[3], 0.0], [point[4], point[5]]])
        effects = np.vstack((mean, np.zeros(2))) @ turn.T
        spread = np.concatenate((within, np.eye(2)[None]))
        lines = back @ (point[:2] + effects).T
        line_covariance = np.einsum("ij,ujk,lk->ilu", back @ turn, spread, back @ turn)
        level[draw], slope[draw] = lines[0] + sums.response_shift, lines[1]
        level_variance[draw], covariance[draw], slope_variance[draw] = (
            line_covariance[0, 0],
            line_covariance[0, 1],
            line_covariance[1, 1],
        )
    residual_variance = np.exp(2.0 * points[:, 2]) * sums.response_scale**2
    return UnitLines(level, slope, level_variance, covariance, slope_variance, residual_variance, NO_LIMIT, effective)
