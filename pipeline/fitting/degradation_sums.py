"""What a straight line with unit effects needs of the readings: a few sums by unit, in one pass over the rows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class UnitSums:
    """Sums of each unit over clock and response, both scaled: x = (clock - shift) / step, y = response / size.

    readings, x, xx, y, xy, yy : arrays, shape (units,).  shift, step [unit of the clock], size [unit of the response]
    """

    readings: Floats
    x: Floats
    xx: Floats
    y: Floats
    xy: Floats
    yy: Floats
    shift: float
    step: float
    size: float
    clocks: int

    @property
    def rows(self) -> int:
        """Readings of all units."""
        return int(self.readings.sum())

    @property
    def units(self) -> int:
        """Units with readings."""
        return self.readings.size


def unit_sums(unit: NDArray[np.integer], clock: Floats, response: Floats, centred: bool = True) -> UnitSums:
    """Sums by unit, linear in the readings.

    unit : array, shape (n,), numbers from 0, each in use.  clock, response : arrays, shape (n,), finite.
    centred : whether the clock is measured from its mean, which a fit with an intercept and a free correlation is
    indifferent to and rounding is not. Scaling keeps the sums near 1, so that no digit is lost to the units of
    measurement. `clocks` counts distinct clock values up to 3.
    """
    shift = float(clock.mean()) if centred else 0.0
    moved = clock - shift
    step = float(np.sqrt(np.mean(np.square(moved)))) or 1.0
    level = float(response.mean()) if centred else 0.0
    size = float(np.sqrt(np.mean(np.square(response - level)))) or 1.0
    x, y = moved / step, response / size
    count = int(unit.max()) + 1 if unit.size else 0

    def summed(values: Floats | None) -> Floats:
        return np.bincount(unit, values, count).astype(np.float64)

    return UnitSums(
        summed(None),
        summed(x),
        summed(x * x),
        summed(y),
        summed(x * y),
        summed(y * y),
        shift,
        step,
        size,
        _distinct(clock),
    )


def _distinct(clock: Floats) -> int:
    """Distinct values, counted up to 3, without sorting."""
    if not clock.size:
        return 0
    low, high = clock.min(), clock.max()
    if low == high:
        return 1
    return 3 if ((clock > low) & (clock < high)).any() else 2
