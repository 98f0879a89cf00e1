"""Leave-one-unit-out scores of a fitted model: how well each unit is predicted from the others.

log p(ratings of unit u | ratings of the others) = log Z - log Z_u, with Z the integral of likelihood x prior over the
parameters and Z_u the same without unit u, both by Laplace's method (Tierney & Kadane 1986, J. Am. Stat. Assoc. 81,
82-86). The mode without u is approximated by one Newton step from the mode with it; for the units with the longest
steps the model is refitted without them. Importance weights would be unreliable for just these influential units.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from draincurve.pipeline.fitting import Objective, Point
from draincurve.schemas.array_types import Floats, Integers

LONG_STEP = 0.3
"""Half the squared Newton step [log density] over which a unit counts as influential and the model is refitted."""

MOST_REFITS = 10

_REFIT_TOLERANCE = 3e-5


@dataclass(frozen=True, slots=True)
class UnitScores:
    """Log score of each unit's ratings given the other units, (U,), and the number of them that come from a refit."""

    scores: Floats
    refitted: int


def leave_unit_out(objective: Objective, mode: Point, *, units: Integers) -> UnitScores:
    """Scores of some units.

    objective : with a prior; mode : its mode; units : indices of the units to score, (U,).
    """
    information = -objective.hessian(mode)
    scores, gains = _steps_without(objective, mode, information=information, units=units)
    longest = np.argsort(-gains, kind="stable")[:MOST_REFITS]
    refitted = longest[gains[longest] > LONG_STEP]
    for index in refitted:
        scores[index] = _refitted_score(objective, mode, information=information, unit=int(units[index]))
    return UnitScores(scores, refitted.size)


def _steps_without(
    objective: Objective, mode: Point, *, information: Floats, units: Integers
) -> tuple[Floats, Floats]:
    """Score and gain in log density of each unit, (U,) each; one Newton step approximates the mode without it."""
    working, layout = mode.working, objective.layout
    natural, jacobian = layout.natural(working), layout.jacobian(working)
    log_determinant = _log_determinant(information)
    scores, gains = np.empty(units.size), np.full(units.size, np.inf)
    for index in range(units.size):
        of_unit = objective.likelihood.of_units(units[index : index + 1])
        value, by_natural = of_unit.value_and_gradient(natural)
        gradient = jacobian.T @ by_natural
        curvature = jacobian.T @ of_unit.hessian(natural) @ jacobian + layout.second_order_term(working, by_natural)
        eigenvalues, vectors = np.linalg.eigh(information + curvature)
        scores[index] = value
        if eigenvalues[0] > 0.0:
            gains[index] = 0.5 * np.sum((vectors.T @ gradient) ** 2 / eigenvalues)
            scores[index] = value - gains[index] + 0.5 * (np.sum(np.log(eigenvalues)) - log_determinant)
    return scores, gains


def _refitted_score(objective: Objective, mode: Point, *, information: Floats, unit: int) -> float:
    """The score of a unit, with the mode found without it."""
    units = objective.likelihood.ratings.starts.size - 1
    others = objective.of_units(np.delete(np.arange(units), unit))
    maximum = others.maximise(mode.working, near_mode=True, tolerance=_REFIT_TOLERANCE)
    volume = 0.5 * (_log_determinant(-maximum.hessian) - _log_determinant(information))
    return mode.value - maximum.point.value + volume


def _log_determinant(information: Floats) -> float:
    return float(np.linalg.slogdet(information)[1])
