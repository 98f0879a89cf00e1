"""Linear mixed model of a measured quantity over its clock, random intercept and slope by unit, by ML or REML."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from draincurve.pipeline.fitting.degradation.profile_likelihood import Profile, profile
from draincurve.pipeline.fitting.degradation.sums_of_units import UnitSums, unit_sums
from draincurve.pipeline.fitting.thread_limits import one_thread
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
"""The free entries among L00, L10, L11 of each structure of the unit effects."""

BOUNDARY = 1e-5
"""A relative standard deviation under this counts as zero: the likelihood is flat below it."""

_STARTS = ((1.0, 0.0, 1.0), (0.1, 0.0, 0.1))
"""Starting values of L00, L10, L11."""

_GRID = tuple(
    (level, level * slope, growth)
    for level in (0.1, 0.5, 2.0, 5.0, 15.0)
    for slope in (-1.0, -0.3, -0.1, 0.1, 0.3, 1.0)
    for growth in (0.05, 0.3, 1.0, 3.0)
)
"""Further starts, with a correlation: L11 = L10 = 0 is stationary by symmetry, and a search may end there."""

_FROM_GRID = 4

SMALLER: tuple[Structure, ...] = ("intercept", "slope", "none")
FEWEST_READINGS = 3


@dataclass(frozen=True, slots=True)
class DegradationFit:
    """A fitted line with unit effects, in the units of the readings and of the clock.

    coefficients, standard_errors : (p,), of the fixed effects; unit_covariance : (2, 2), of the units' intercept (at
    clock 0) and slope; lower : (3,), L00, L10, L11 on the scale of the sums; singular : whether a standard deviation
    between units is zero or their correlation perfect; why : a sentence where the structure is smaller than asked for
    """

    structure: Structure
    coefficients: Floats
    standard_errors: Floats
    unit_covariance: Floats
    residual_variance: float
    log_likelihood: float
    lower: Floats
    converged: bool
    singular: bool
    why: str


def fit_degradation(
    response: Floats,
    clock: Floats,
    *,
    unit: NDArray[np.integer],
    method: Literal["ML", "REML"] = "REML",
    structure: Structure = "intercept and slope",
    through_origin: bool = False,
) -> DegradationFit:
    """Fit response = (b0 + u0) + (b1 + u1) clock + noise.

    response, clock : (n,); unit : (n,), whole numbers from 0; through_origin : no fixed intercept. Raises FitError
    with the reason for fewer than 3 readings, or all at one clock value.
    """
    structure, why = feasible_structure(structure, unit, clock=clock)
    centred = not through_origin and structure not in ("uncorrelated", "slope")
    sums = unit_sums(unit, clock=clock, response=response, centred=centred)
    check_sums(sums)
    fixed = (1,) if through_origin else (0, 1)
    return fit_sums(sums, structure, restricted=method == "REML", fixed=fixed, why=why)


def check_sums(sums: UnitSums) -> None:
    """Raise FitError where no line can be fitted."""
    if sums.rows < FEWEST_READINGS:
        raise FitError(f"{sums.rows} readings with a known clock; a line needs {FEWEST_READINGS} or more")
    if not sums.clock_varies:
        raise FitError("every reading was taken at the same hours, so growth with hours cannot be told; stagger them")


def fit_sums(
    sums: UnitSums,
    structure: Structure,
    *,
    restricted: bool,
    fixed: tuple[int, ...] = (0, 1),
    why: str = "",
) -> DegradationFit:
    """The fit from per-unit sums.

    The deviance can have its minimum at a standard deviation of zero, where it is flat. So a fit that ends there is
    compared with every smaller structure, none of which fits better if the search was good; `why` says what it means.
    """
    with one_thread():  # the matrices are tiny: several threads would only wait for each other
        lower, best, converged = _best_structure(sums, structure, restricted=restricted, fixed=fixed)
    singular = is_singular(lower, structure)
    if singular and not why:
        why = "the readings do not show that units differ both in level and in growth"
    return _rescaled(
        sums, best, structure=structure, fixed=fixed, lower=lower, converged=converged, singular=singular, why=why
    )


def _best_structure(
    sums: UnitSums, structure: Structure, *, restricted: bool, fixed: tuple[int, ...]
) -> tuple[Floats, Profile, bool]:
    """The best L of a structure and of smaller ones, its profile, and whether the search converged."""
    lower, best, converged = _minimise(sums, structure, restricted=restricted, fixed=fixed)
    for smaller in SMALLER if is_singular(lower, structure) or not converged else ():
        if not set(FREE[smaller]) < set(FREE[structure]):
            continue
        other_lower, other_profile, other_converged = _minimise(sums, smaller, restricted=restricted, fixed=fixed)
        if other_profile.deviance < best.deviance - 1e-7:
            lower, best, converged = other_lower, other_profile, other_converged
    return lower, best, converged


def is_singular(lower: Floats, structure: Structure) -> bool:
    """Whether a free standard deviation is zero, or intercept and slope are perfectly correlated."""
    free = FREE[structure]
    return (0 in free and lower[0] < BOUNDARY) or (2 in free and lower[2] < BOUNDARY)


def feasible_structure(structure: Structure, unit: NDArray[np.integer], *, clock: Floats) -> tuple[Structure, str]:
    """The largest structure that the readings can identify, with the reason where it is a smaller one."""
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
    has_slope = high > low
    if structure != "intercept" and has_slope.any() and clock.size == readings.size + has_slope.sum():
        smaller: Structure = "intercept" if readings.size < clock.size else "none"
        return smaller, "no unit was measured three times, so its own growth cannot be told from a reading's noise"
    if not has_slope.any() and structure != "intercept":
        return "intercept", "no unit was measured at two different hours, so only its level can differ"
    return structure, ""


def _minimise(
    sums: UnitSums, structure: Structure, *, restricted: bool, fixed: tuple[int, ...]
) -> tuple[Floats, Profile, bool]:
    """The best L of a structure, its profile, and whether the search converged.

    A search that ends on the boundary is repeated from the other starts.
    """
    free = np.array(FREE[structure], dtype=int)
    if not free.size:
        lower = np.zeros(3)
        return lower, profile(sums, lower, restricted=restricted, fixed=fixed), True

    def at(point: Floats) -> tuple[float, Floats]:
        lower = np.zeros(3)
        lower[free] = point
        profiled = profile(sums, lower, restricted=restricted, fixed=fixed)
        return profiled.deviance, profiled.gradient[free]

    best: tuple[Floats, float, bool] | None = None
    for start in _starts(at, free=free):
        bounds = [(None, None) if entry == 1 else (0.0, None) for entry in free]
        options = {"maxiter": 300, "ftol": 1e-14, "gtol": 1e-9}
        done = minimize(at, start, jac=True, method="L-BFGS-B", bounds=bounds, options=options)
        if best is None or done.fun < best[1] - 1e-9:
            best = done.x, float(done.fun), bool(done.success) or done.status == 2
        if (best[0][free != 1] > BOUNDARY).all() and best[2]:
            break
    assert best is not None
    lower = np.zeros(3)
    lower[free] = best[0]
    return lower, profile(sums, lower, restricted=restricted, fixed=fixed), best[2]


def _starts(deviance_at: Callable[[Floats], tuple[float, Floats]], *, free: NDArray[np.integer]) -> Iterator[Floats]:
    """Starting points of a search over the free entries; the best points of the grid come last."""
    for start in _STARTS:
        yield np.array(start)[free]
    if 1 in free:
        yield from sorted(map(np.array, _GRID), key=lambda lower: deviance_at(lower)[0])[:_FROM_GRID]


def _rescaled(
    sums: UnitSums,
    profiled: Profile,
    *,
    structure: Structure,
    fixed: tuple[int, ...],
    lower: Floats,
    converged: bool,
    singular: bool,
    why: str,
) -> DegradationFit:
    """The fit on the scale of the readings, with the intercept at clock 0."""
    back = sums.line_scale
    triangle = np.array([[lower[0], 0.0], [lower[1], lower[2]]])
    unit_covariance = profiled.residual_variance * triangle @ triangle.T
    index = np.array(fixed)
    whole = np.zeros((2, 2))
    whole[np.ix_(index, index)] = profiled.residual_variance * profiled.unscaled
    beta = np.zeros(2)
    beta[index] = profiled.coefficients
    errors: Floats = np.sqrt(np.diag(back @ whole @ back.T))
    return DegradationFit(
        structure,
        (back @ beta + [sums.response_shift, 0.0])[index],
        errors[index],
        back @ unit_covariance @ back.T,
        profiled.residual_variance * sums.response_scale**2,
        -0.5 * profiled.deviance,
        lower,
        converged,
        singular,
        why,
    )
