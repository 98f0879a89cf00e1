"""Linear mixed model of a measured quantity over its clock, random intercept and slope by unit, by ML or REML."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from threadpoolctl import threadpool_limits

from draincurve.pipeline.fitting.degradation.profile_likelihood import Profile, profile, unit_terms
from draincurve.pipeline.fitting.degradation.unit_sums import UnitSums, unit_sums
from draincurve.schemas.array_types import Floats
from draincurve.schemas.errors import FitError

Structure = Literal["intercept and slope", "uncorrelated", "intercept", "slope", "none"]

FREE: dict[Structure, tuple[int, ...]] = {
    "intercept and slope": (0, 1, 2),
    "uncorrelated": (0, 2),
    "intercept": (0,),
    "slope": (2,),
    "none": (),
}
"""Entries of L00, L10, L11 that each structure of unit effects leaves free."""

EDGE = 1e-5
"""A relative standard deviation under this is nought: the likelihood is flat below."""

SMALLER: tuple[Structure, ...] = ("intercept", "slope", "none")
FEWEST_READINGS = 3


@dataclass(frozen=True, slots=True)
class DegradationFit:
    """A fitted line with unit effects, in the units of the readings and of the clock.

    coefficients, standard_errors : arrays, shape (p,), the fixed effects
    unit_covariance : (2, 2) of intercept (at clock 0) and slope;  residual_variance
    unit_effects : (units, 2), best linear unbiased predictions;  singular : a spread between units lies at its
    edge, nought or perfectly correlated;  why : a sentence where the structure is smaller than was asked for
    """

    method: str
    structure: Structure
    coefficients: Floats
    standard_errors: Floats
    unit_covariance: Floats
    residual_variance: float
    log_likelihood: float
    unit_effects: Floats
    lower: Floats
    converged: bool
    singular: bool
    why: str


def fit_degradation(
    response: Floats,
    clock: Floats,
    unit: NDArray[np.integer],
    method: str = "REML",
    structure: Structure = "intercept and slope",
    through_origin: bool = False,
) -> DegradationFit:
    """Fit response = (b0 + u0) + (b1 + u1) clock + noise.

    response, clock : arrays, shape (n,);  unit : array, shape (n,), whole numbers from 0.  method : "ML" or "REML".
    through_origin : no fixed intercept. Raises FitError with the reason for fewer than 3 readings, all at one clock
    value, or readings without any scatter.
    """
    structure, why = _possible(structure, unit, clock)
    sums = unit_sums(unit, clock, response, centred=not through_origin and structure not in ("uncorrelated", "slope"))
    refuse_unfit(sums)
    return fit_sums(sums, method, structure, (1,) if through_origin else (0, 1), why)


def refuse_unfit(sums: UnitSums) -> None:
    """Raises FitError where no line can be fitted."""
    if sums.rows < FEWEST_READINGS:
        raise FitError(f"{sums.rows} readings with a known clock; a line needs {FEWEST_READINGS} or more")
    if sums.clocks < 2:
        raise FitError("every reading was taken at the same hours, so growth with hours cannot be told; stagger them")


def fit_sums(
    sums: UnitSums, method: str, structure: Structure, fixed: tuple[int, ...] = (0, 1), why: str = ""
) -> DegradationFit:
    """The fit from per-unit sums.

    The deviance can have its minimum at a spread of nought, where it is flat. So a fit that ends there is held
    against each smaller structure, which is no worse if the search was true, and `why` says what it means.
    """
    with threadpool_limits(1, "blas"):  # the matrices are tiny: several threads would only wait for each other
        lower, found, converged = _best(sums, structure, method == "REML", fixed)
    singular = is_singular(lower, structure)
    if singular and not why:
        why = "the readings do not show that units differ both in level and in growth"
    return _in_own_units(sums, method, structure, fixed, lower, found, converged, singular, why)


def _best(
    sums: UnitSums, structure: Structure, restricted: bool, fixed: tuple[int, ...]
) -> tuple[Floats, Profile, bool]:
    lower, found, converged = _minimised(sums, structure, restricted, fixed)
    for smaller in SMALLER if is_singular(lower, structure) or not converged else ():
        if not set(FREE[smaller]) < set(FREE[structure]):
            continue
        other, at, done = _minimised(sums, smaller, restricted, fixed)
        if at.deviance < found.deviance - 1e-7:
            lower, found, converged = other, at, done
    return lower, found, converged


def is_singular(lower: Floats, structure: Structure) -> bool:
    """Whether a spread that the structure leaves free is nought, or intercept and slope are perfectly correlated."""
    free = FREE[structure]
    return (0 in free and lower[0] < EDGE) or (2 in free and lower[2] < EDGE)


def _possible(structure: Structure, unit: NDArray[np.integer], clock: Floats) -> tuple[Structure, str]:
    """The structure that the readings can carry."""
    readings = np.bincount(unit)
    if structure == "none" or not readings.size:
        return structure, ""
    if readings.size == 1:
        return "none", "there is one unit only, so its own line is all that can be fitted"
    if readings.max() == 1:
        return "none", "every unit was measured once only, so units cannot be told from the noise of a reading"
    low, high = np.full(readings.size, np.inf), np.full(readings.size, -np.inf)
    np.minimum.at(low, unit, clock)
    np.maximum.at(high, unit, clock)
    told = high > low
    if structure != "intercept" and told.any() and clock.size == readings.size + told.sum():
        smaller: Structure = "intercept" if readings.size < clock.size else "none"
        return smaller, "no unit was measured three times, so its own growth cannot be told from a reading's noise"
    if not told.any() and structure != "intercept":
        return "intercept", "no unit was measured at two different hours, so only its level can differ"
    return structure, ""


def _minimised(
    sums: UnitSums, structure: Structure, restricted: bool, fixed: tuple[int, ...]
) -> tuple[Floats, Profile, bool]:
    """Best L of a structure, from the inside of its range; from a second start where the first ends at an edge."""
    free = np.array(FREE[structure], dtype=int)
    if not free.size:
        lower = np.zeros(3)
        return lower, profile(sums, lower, restricted, fixed), True

    def at(point: Floats) -> tuple[float, Floats]:
        lower = np.zeros(3)
        lower[free] = point
        found = profile(sums, lower, restricted, fixed)
        return found.deviance, found.gradient[free]

    best: tuple[Floats, float, bool] | None = None
    for start in (1.0, 0.1):
        begin = np.where(free == 1, 0.0, start)
        bounds = [(None, None) if entry == 1 else (0.0, None) for entry in free]
        options = {"maxiter": 300, "ftol": 1e-14, "gtol": 1e-9}
        done = minimize(at, begin, jac=True, method="L-BFGS-B", bounds=bounds, options=options)
        if best is None or done.fun < best[1] - 1e-9:
            best = done.x, float(done.fun), bool(done.success) or done.status == 2
        if (best[0][free != 1] > EDGE).all() and best[2]:
            break
    assert best is not None
    lower = np.zeros(3)
    lower[free] = best[0]
    return lower, profile(sums, lower, restricted, fixed), best[2]


def _in_own_units(
    sums: UnitSums,
    method: str,
    structure: Structure,
    fixed: tuple[int, ...],
    lower: Floats,
    found: Profile,
    converged: bool,
    singular: bool,
    why: str,
) -> DegradationFit:
    """Everything back on the scale of the readings, the intercept at clock 0."""
    back = sums.size * np.array([[1.0, -sums.shift / sums.step], [0.0, 1.0 / sums.step]])
    triangle = np.array([[lower[0], 0.0], [lower[1], lower[2]]])
    spread = found.residual_variance * triangle @ triangle.T
    index = np.array(fixed)
    whole = np.zeros((2, 2))
    whole[np.ix_(index, index)] = found.residual_variance * found.unscaled
    beta = np.zeros(2)
    beta[index] = found.coefficients
    precision, cross, _, _ = unit_terms(sums, lower)
    score = np.stack(
        [
            cross[0] - precision[0] * beta[0] - precision[1] * beta[1],
            cross[1] - precision[1] * beta[0] - precision[2] * beta[1],
        ]
    )
    effects = (triangle @ triangle.T @ score).T
    errors: Floats = np.sqrt(np.diag(back @ whole @ back.T))
    return DegradationFit(
        method,
        structure,
        (back @ beta + [sums.level, 0.0])[index],
        errors[index],
        back @ spread @ back.T,
        found.residual_variance * sums.size**2,
        -0.5 * found.deviance,
        effects @ back.T,
        lower,
        converged,
        singular,
        why,
    )
