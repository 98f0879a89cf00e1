"""Age replacement: the cheapest age at which to change a part whose failure announces itself.

A reference for pipeline/deciding/costs.py. It is not the rule for oil, because only a drain shows that oil is past
its limit; but both share the numerator and agree at small risk.

    cost per hour  C(T) = (preventive R(T) + failure F(T)) / integral of R from 0 to T
    optimum        hazard(T) * integral of R - F(T) = preventive / (failure - preventive)

Reference: Barlow & Hunter (1960), Optimum preventive maintenance policies, Operations Research 8, 90-100.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq

from draincurve.schemas.errors import ContractError

STEPS = 60
TRACE = 1e-12


@dataclass(frozen=True, slots=True)
class AgeReplacement:
    """Cheapest age [h] and its cost per hour; an infinite age means run to failure, and `why` says so."""

    age: float
    cost_per_hour: float
    why: str = ""


def age_replacement_optimum(
    survival: Callable[[float], float],
    hazard: Callable[[float], float],
    cost_preventive: float,
    cost_failure: float,
    scale: float,
) -> AgeReplacement:
    """Barlow and Hunter's optimum by the root of the first-order condition.

    survival, hazard : R(t) and h(t) [1/h] for t over 0 [h];  scale : a typical life [h], where the search
    starts. The left side of the condition rises with T where the hazard does, so it is met once or never:
    never where it is still short at the last age that more than a trace survives, which is the case of a
    hazard that does not rise. Raises ContractError unless 0 < cost_preventive < cost_failure and the scale
    is over zero.
    """
    if not (0 < cost_preventive < cost_failure and scale > 0):
        raise ContractError(
            f"age replacement: costs {cost_preventive:g} (preventive) and {cost_failure:g} (failure), "
            f"scale {scale:g}; expected 0 < preventive < failure and a scale over zero"
        )
    wanted = cost_preventive / (cost_failure - cost_preventive)

    def mean_use(age: float) -> float:
        return float(quad(survival, 0.0, age, epsabs=0.0, epsrel=1e-11, limit=200)[0])

    def lead(age: float) -> float:
        return hazard(age) * mean_use(age) - (1.0 - survival(age)) - wanted

    bracket = _bracket(lead, survival, scale)
    if bracket is None:
        cost = cost_failure / mean_use(_last_alive(survival, scale))
        return AgeReplacement(np.inf, cost, "the hazard does not rise enough: running to failure costs least")
    age = float(brentq(lead, *bracket, xtol=1e-12 * scale, rtol=1e-13))
    surviving = survival(age)
    cost = (cost_preventive * surviving + cost_failure * (1.0 - surviving)) / mean_use(age)
    return AgeReplacement(age, float(cost))


def _last_alive(survival: Callable[[float], float], scale: float) -> float:
    """Latest age, by doubling and halving, at which more than a trace survives."""
    low, high = 0.0, scale
    while survival(high) > TRACE and high < scale * 2.0**STEPS:
        low, high = high, high * 2.0
    for _ in range(STEPS):
        middle = (low + high) / 2
        low, high = (middle, high) if survival(middle) > TRACE else (low, middle)
    return low


def _bracket(
    lead: Callable[[float], float], survival: Callable[[float], float], scale: float
) -> tuple[float, float] | None:
    """Ages on both sides of the first-order condition, or None where it is never met."""
    last = _last_alive(survival, scale)
    if lead(last) < 0:
        return None
    low = last
    while lead(low) >= 0:
        low /= 2.0
    return low, min(low * 2.0, last)
