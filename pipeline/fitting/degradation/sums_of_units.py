"""The sums over each unit's readings from which a line with unit effects is fitted, in one pass over the readings."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from draincurve.schemas.array_types import Floats

ONE_CLOCK_VALUE = 1e-10
"""A unit's sum of squares of the clock about its mean, relative to that about zero, under which its readings count as
taken at one clock value."""


@dataclass(frozen=True, slots=True)
class UnitSums:
    """Sums over each unit's readings.

    The clock is scaled to x = (clock - clock_shift) / clock_scale, the response to y = (response - response_shift) /
    response_scale.

    readings, x, xx, y, xy, yy : (units,), number of readings and sums of x, x^2, y, xy, y^2
    centred_xx, centred_xy : (units,), sums about the unit's own means, exactly zero where it has one clock value
    clock_varies : whether there are two clock values at least
    pseudo_readings : readings that were added by `with_pseudo_reading`
    """

    readings: Floats
    x: Floats
    xx: Floats
    y: Floats
    xy: Floats
    yy: Floats
    centred_xx: Floats
    centred_xy: Floats
    clock_shift: float
    clock_scale: float
    response_shift: float
    response_scale: float
    clock_varies: bool
    pseudo_readings: int = 0

    @property
    def rows(self) -> int:
        """Readings of all units, pseudo-readings included."""
        return int(self.readings.sum()) + self.pseudo_readings

    @property
    def residual_freedom(self) -> int:
        """Degrees of freedom of readings about their own unit's line; if 0, the noise alone is not identified."""
        return int(self.readings.sum()) - self.units - int((self.centred_xx > 0).sum())

    def with_pseudo_reading(self, deviation: float) -> UnitSums:
        """The same with one more reading, which deviates this much from its line and adds no other information."""
        yy = self.yy + np.eye(1, self.units)[0] * deviation**2
        return replace(self, yy=yy, pseudo_readings=self.pseudo_readings + 1)

    @property
    def units(self) -> int:
        """Units with readings."""
        return self.readings.size

    @property
    def line_scale(self) -> Floats:
        """Matrix that takes (intercept, slope) of y over x to those of response - response_shift over the clock."""
        ratio = 1.0 / self.clock_scale
        return self.response_scale * np.array([[1.0, -self.clock_shift / self.clock_scale], [0.0, ratio]])


def unit_sums(unit: NDArray[np.integer], *, clock: Floats, response: Floats, centred: bool = True) -> UnitSums:
    """The sums by unit.

    unit : (n,), numbers from 0, each in use; clock, response : (n,), finite; centred : whether both are measured from
    their means, which changes nothing in a fit with an intercept and a free correlation but rounding errors. Scaling
    keeps the sums near 1, so that no digit is lost to the units of measurement.
    """
    clock_shift, response_shift = (float(clock.mean()), float(response.mean())) if centred else (0.0, 0.0)
    clock_deviation, response_deviation = clock - clock_shift, response - response_shift
    clock_scale = float(np.sqrt(np.mean(np.square(clock_deviation)))) or 1.0
    response_scale = float(np.sqrt(np.mean(np.square(response_deviation)))) or 1.0
    x, y = clock_deviation / clock_scale, response_deviation / response_scale
    units = int(unit.max()) + 1 if unit.size else 0

    def summed(values: Floats | None) -> Floats:
        return np.bincount(unit, values, units).astype(np.float64)

    n, sx, sxx, sy, sxy, syy = (summed(part) for part in (None, x, x * x, y, x * y, y * y))
    centred_xx = sxx - sx * sx / n
    varies = centred_xx > ONE_CLOCK_VALUE * sxx
    return UnitSums(
        readings=n,
        x=sx,
        xx=sxx,
        y=sy,
        xy=sxy,
        yy=syy,
        centred_xx=np.where(varies, centred_xx, 0.0),
        centred_xy=np.where(varies, sxy - sx * sy / n, 0.0),
        clock_shift=clock_shift,
        clock_scale=clock_scale,
        response_shift=response_shift,
        response_scale=response_scale,
        clock_varies=bool(clock.size) and bool(clock.min() < clock.max()),
    )
