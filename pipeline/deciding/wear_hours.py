"""Hours at which a unit's line, or its next reading, reaches a limit with a given probability."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
from scipy.special import stdtr, stdtrit

from draincurve.pipeline.describing import WearLimit
from draincurve.pipeline.fitting.degradation import UnitLines
from draincurve.schemas.array_types import Floats, Integers

GRID = 64
HALVINGS = 20
CELLS_AT_ONCE = 2_000_000


def hours_at(
    lines: UnitLines,
    columns: Integers,
    limit: WearLimit,
    log_scale: bool,
    begin: Floats,
    end: float,
    probabilities: Sequence[float],
    of_reading: bool,
) -> Floats:
    """First hours at which the probability of being past the limit reaches each of `probabilities`.

    columns : array, shape (n,), of `lines`.  begin : array, shape (n,) [h], where to look from;  end [h], where to
    stop: a line that does not get worse never meets its limit, and nothing is known beyond the readings' range
    of_reading : of a single reading, with its noise, instead of the line itself. Returns (n, probabilities) [h],
    infinite where the probability is not reached by `end`.
    """
    hours_reached = np.full((columns.size, len(probabilities)), np.inf)
    piece = max(1, CELLS_AT_ONCE // (lines.residual_variance.size * GRID))
    for start in range(0, columns.size, piece):
        part = slice(start, start + piece)
        first = np.minimum(begin[part], end)
        hours = first[:, None] + np.linspace(0.0, 1.0, GRID) * (end - first)[:, None]
        past = probability_past(lines, columns[part], limit, log_scale, hours, of_reading)
        past_at = partial(probability_past, lines, columns[part], limit, log_scale, of_reading=of_reading)
        for index, probability in enumerate(probabilities):
            hours_reached[part, index] = _halved(hours, past, probability, past_at)
    return hours_reached


def probability_past(
    lines: UnitLines, columns: Integers, limit: WearLimit, log_scale: bool, hours: Floats, of_reading: bool
) -> Floats:
    """Probability of being at or past the limit; hours (n, m) [h], one row for each column; (n, m)."""
    middle, scale = lines.at(columns, hours, of_reading=of_reading)
    past = np.zeros(hours.shape)
    for bound, sign in ((limit.high, -1.0), (limit.low, 1.0)):
        if bound is not None:
            past += stdtr(lines.degrees_of_freedom, sign * (_on_scale(bound, log_scale) - middle) / scale).mean(
                axis=0
            )
    return past


def readings_between(lines: UnitLines, column: int, hours: Floats, log_scale: bool) -> tuple[Floats, Floats, Floats]:
    """Median and 5 % and 95 % points of a reading over hours, (m,) each, on the scale of the readings.

    The mixture over draws is approximated by its mean and variance, for pictures only.
    """
    middles, scales = (part[:, 0] for part in lines.at(np.array([column]), hours[None, :], of_reading=True))
    sd = np.sqrt(np.square(scales).mean(axis=0) + middles.var(axis=0))
    half_width = float(stdtrit(lines.degrees_of_freedom, 0.95)) * sd
    middle = middles.mean(axis=0)
    low, high = middle - half_width, middle + half_width
    return (np.exp(middle), np.exp(low), np.exp(high)) if log_scale else (middle, low, high)


def _on_scale(bound: float, log_scale: bool) -> float:
    if not log_scale:
        return bound
    return float(np.log(bound)) if bound > 0 else -np.inf


def _halved(hours: Floats, past: Floats, probability: float, past_at: Callable[[Floats], Floats]) -> Floats:
    """Hours at which each row first reaches the probability, by bisection of a grid cell; infinite if none does.

    hours, past : (n, m);  past_at : as `probability_past`, of hours alone. The end still below the probability is
    returned, so that rounding never adds hours.
    """
    over = past >= probability
    cell, rows = over.argmax(axis=1), np.arange(hours.shape[0])
    low, high = hours[rows, np.maximum(cell - 1, 0)], hours[rows, cell]
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        reached = past_at(middle[:, None])[:, 0] >= probability
        low, high = np.where(reached, low, middle), np.where(reached, middle, high)
    return np.where(over.any(axis=1), low, np.inf)
