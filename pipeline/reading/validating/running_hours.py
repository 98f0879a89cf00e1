"""Hours that run on from drain to drain and start again now and then, as since a rebuild: how surely they do.

Where fills are in random order, some hours fall a little. Where they run on, each rises or starts again.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt

MOST_DRAINS = 300
"""Drains of a unit that are compared with each other."""


def running_z(hours_of_units: Iterable[npt.ArrayLike], *, reset_under: float) -> float:
    """How surely hours run on, in standard deviations of the steps that rise or start again in a random order.

    hours_of_units : of each unit, its hours [h] in order. reset_under : share of the hours before, under which the
    next start again. The steps of all units are added up. 0 where their order can make no difference.

    >>> round(running_z([[12, 24, 36, 12, 24, 36]] * 4, reset_under=0.5), 1)
    4.3
    """
    moments = [_moments(np.asarray(hours, dtype=np.float64)[:MOST_DRAINS], reset_under) for hours in hours_of_units]
    steps, mean, variance = np.sum([*moments, (0.0, 0.0, 0.0)], axis=0)
    return float((steps - mean) / variance**0.5) if variance > 1e-9 else 0.0


def _moments(hours: npt.NDArray[np.float64], reset_under: float) -> tuple[float, float, float]:
    """Steps of one unit that rise or start again; their mean and variance over all orders of its hours.

    The variance adds up what two steps have in common: all, one drain, or none.
    """
    n = hours.size
    if n < 3:
        return 0.0, 0.0, 0.0
    onward = (hours > hours[:, None]) | (hours < reset_under * hours[:, None])
    np.fill_diagonal(onward, val=False)
    out, into = onward.sum(axis=1), onward.sum(axis=0)
    total, both_ways, chained = float(out.sum()), float((onward & onward.T).sum()), float(out @ into)
    adjacent = 2.0 * (chained - both_ways) / (n * (n - 1))
    apart = total**2 - float(out @ out + into @ into) - 2.0 * chained + total + both_ways
    mean = total / n
    variance = mean + adjacent + apart / (n * (n - 1)) - mean**2
    return float(np.diagonal(onward, offset=1).sum()), mean, variance
