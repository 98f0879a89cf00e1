"""Roots of many increasing functions at once: Newton's step where it stays inside the bracket, else halving."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from draincurve.schemas.array_types import Floats, Indices

ValueAndSlope = Callable[[Indices, Floats], tuple[Floats, Floats]]

RELATIVE_TOLERANCE = 1e-12
MOST_ROUNDS = 200


def increasing_roots(value_and_slope: ValueAndSlope, low: Floats, high: Floats, start: Floats) -> Floats:
    """Where each of n increasing functions crosses zero inside its bracket.

    value_and_slope : given the row numbers still open, shape (m,), and a point for each, gives value and
    slope, (m,)
    low, high, start : arrays, shape (n,); a function that is positive at `low` gives `low`, and one that is
    negative at `high` gives `high`. Values may be infinite; they only turn the step into a halving. Halving
    bounds the work, Newton's step makes it short. Source: Press et al. (2007), Numerical Recipes, 9.4.
    """
    low, high = low.astype(np.float64), high.astype(np.float64)
    point = np.clip(start.astype(np.float64), low, high)
    open_rows = np.flatnonzero(low < high)
    for _ in range(MOST_ROUNDS):
        if not open_rows.size:
            break
        here = point[open_rows]
        value, slope = value_and_slope(open_rows, here)
        below = value < 0
        low[open_rows] = np.where(below, here, low[open_rows])
        high[open_rows] = np.where(below, high[open_rows], here)
        following = _step(here, value, slope, low[open_rows], high[open_rows])
        point[open_rows] = following
        scale = RELATIVE_TOLERANCE * np.maximum(1.0, np.abs(following))
        done = (np.abs(following - here) <= scale) | (value == 0)
        open_rows = open_rows[~done]
    return point


def _step(here: Floats, value: Floats, slope: Floats, low: Floats, high: Floats) -> Floats:
    """Newton's step, or the middle of the bracket where the step leaves it or has no meaning."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        newton = here - value / slope
    inside = np.isfinite(newton) & (newton >= low) & (newton <= high)
    return np.where(value == 0, here, np.where(inside, newton, low + (high - low) / 2))
