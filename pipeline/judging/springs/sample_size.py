"""How many more drains would settle a pair, from the information that the drains so far carry."""

from __future__ import annotations

import math

from scipy.special import ndtri

POWER = 0.8
LEVEL = 0.05


def information_needed(difference: float, tests: int) -> float:
    """Information on a coefficient's difference at which a two-sided test finds `difference` with 80 % power.

    difference : on the scale of the link; tests : number of tests that share the 5 % level (Holm's first step).
    (z_level + z_power)^2 / difference^2, as in Cohen (1988), Statistical Power Analysis.
    """
    return (_z_sum(tests) / difference) ** 2


def difference_found(information: float, tests: int) -> float:
    """The least difference that is found with 80 % power at this information: `information_needed` turned round.

    Raises ZeroDivisionError without information.
    """
    return _z_sum(tests) / math.sqrt(information)


def _z_sum(tests: int) -> float:
    return float(ndtri(1.0 - LEVEL / (2.0 * tests)) + ndtri(POWER))


def further_drains(information: float, needed: float, *, drains: int) -> int | None:
    """Drains to add to `drains`, shared out over springs, units and hours as so far; None without information."""
    if information <= 0.0:
        return None
    return max(0, math.ceil(drains * (needed / information - 1.0)))


def drains_if_crossed(information_a_drain: float, needed: float) -> int | None:
    """Drains of the two springs together, half on each, if all else were shared out evenly between them."""
    if information_a_drain <= 0.0:
        return None
    return math.ceil(4.0 * needed / information_a_drain)
