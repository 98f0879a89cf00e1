"""What a straight line with unit effects needs of the readings: a few sums by unit, in one pass over the rows."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from draincurve.schemas.array_types import Floats

SAME_HOURS = 1e-10
"""A unit whose clock spreads by less than this share of its square has readings at one clock value."""


@dataclass(frozen=True, slots=True)
class UnitSums:
    """Sums of each unit over scaled clock x = (clock - shift) / step and response y = (response - level) / size.

    readings, x, xx, y, xy, yy : arrays, shape (units,);  inside_xx, inside_xy : the same about the unit's own means,
    exactly nought where a unit has one clock value.  shift, step [unit of the clock], level, size [of the response]
    clocks : distinct clock values, counted up to 3
    """

    readings: Floats
    x: Floats
    xx: Floats
    y: Floats
    xy: Floats
    yy: Floats
    inside_xx: Floats
    inside_xy: Floats
    shift: float
    step: float
    level: float
    size: float
    clocks: int
    made_up: int = 0

    @property
    def rows(self) -> int:
        """Readings of all units, with those made up for a noise that nothing shows."""
        return int(self.readings.sum()) + self.made_up

    @property
    def about_own_lines(self) -> int:
        """Degrees of freedom of readings about their units' own lines; with none, nothing shows the noise alone."""
        return int(self.readings.sum()) - self.units - int((self.inside_xx > 0).sum())

    def with_noise(self, size: float) -> UnitSums:
        """The same with one reading that lies so far off its line, on the scale of the sums, and tells no more."""
        return replace(self, yy=self.yy + np.eye(1, self.units)[0] * size**2, made_up=self.made_up + 1)

    @property
    def units(self) -> int:
        """Units with readings."""
        return self.readings.size


def unit_sums(unit: NDArray[np.integer], clock: Floats, response: Floats, centred: bool = True) -> UnitSums:
    """Sums by unit, linear in the readings.

    unit : array, shape (n,), numbers from 0, each in use.  clock, response : arrays, shape (n,), finite.
    centred : whether both are measured from their means, which a fit with an intercept and a free correlation is
    indifferent to and rounding is not. Scaling keeps the sums near 1, so that no digit is lost to the units of
    measurement.
    """
    shift, level = (float(clock.mean()), float(response.mean())) if centred else (0.0, 0.0)
    moved, lifted = clock - shift, response - level
    step = float(np.sqrt(np.mean(np.square(moved)))) or 1.0
    size = float(np.sqrt(np.mean(np.square(lifted)))) or 1.0
    x, y = moved / step, lifted / size
    count = int(unit.max()) + 1 if unit.size else 0

    def summed(values: Floats | None) -> Floats:
        return np.bincount(unit, values, count).astype(np.float64)

    n, sx, sxx, sy, sxy, syy = (summed(part) for part in (None, x, x * x, y, x * y, y * y))
    inside_xx = sxx - sx * sx / n
    told = inside_xx > SAME_HOURS * sxx
    inside_xx, inside_xy = np.where(told, inside_xx, 0.0), np.where(told, sxy - sx * sy / n, 0.0)
    return UnitSums(
        n, sx, sxx, sy, sxy, syy, inside_xx, inside_xy, shift, step, level, size, _distinct(clock)
    )  # fmt: skip


def _distinct(clock: Floats) -> int:
    """Distinct values, counted up to 3, without sorting."""
    if not clock.size:
        return 0
    low, high = clock.min(), clock.max()
    if low == high:
        return 1
    return 3 if ((clock > low) & (clock < high)).any() else 2
