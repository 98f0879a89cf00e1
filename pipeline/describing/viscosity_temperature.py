"""Kinematic viscosity at any temperature from its values at 40 and 100 C (ASTM D341, the Walther line).

log10 log10 Z = A - B log10 T, with T in kelvin and Z = v + 0.7 plus terms that matter only for thin oils. The
standard's way back from Z to v is a fit, so a round trip is true to about 0.01 % and no better.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

KELVIN = 273.15
FIRST_C, SECOND_C = 40.0, 100.0
COLDEST_C, HOTTEST_C = -40.0, 150.0
"""Temperatures [C] for which a value is given: colder, oils stiffen more than the line says."""

LEAST_MM2S = 0.21
"""Thinnest oil [mm2/s] for which the standard gives the relation."""

SHOWN_COLD_C = 20.0
"""Temperature [C] at which every table shows a viscosity: a cold workshop."""

USUAL_C = 60.0
"""Temperature [C] of the last column unless told otherwise: oil in a unit that works (common practice)."""


@dataclass(frozen=True, slots=True)
class WaltherLine:
    """Intercept A and slope B of the line over log10 of the temperature in kelvin."""

    intercept: float
    slope: float

    def viscosity_at(self, celsius: float) -> float | None:
        """Kinematic viscosity [mm2/s] at a temperature [C]; None where the line leaves the standard's range."""
        if not COLDEST_C <= celsius <= HOTTEST_C:
            return None
        double_log = self.intercept - self.slope * math.log10(celsius + KELVIN)
        if double_log > math.log10(12.0):  # past 1e12 mm2/s, which is no oil
            return None
        found = viscosity_of(10.0 ** (10.0**double_log))
        return found if found >= LEAST_MM2S else None


def walther_line(kv40: float, kv100: float, kelvin: float = KELVIN) -> WaltherLine | None:
    """The line through two viscosities [mm2/s]; None where kv100 is not under kv40, or under what the standard has.

    kelvin : offset from C, since older worksheets use 273.
    """
    if not LEAST_MM2S <= kv100 < kv40:
        return None
    first, second = (math.log10(math.log10(thickness(value))) for value in (kv40, kv100))
    places = math.log10(FIRST_C + kelvin), math.log10(SECOND_C + kelvin)
    slope = (first - second) / (places[1] - places[0])
    return WaltherLine(first + slope * places[0], slope)


def thickness(viscosity: float) -> float:
    """Z of a viscosity [mm2/s], 0.21 or more."""
    return viscosity + 0.7 + math.exp(-1.47 - 1.84 * viscosity - 0.51 * viscosity**2)


def viscosity_of(z: float) -> float:
    """Viscosity [mm2/s] of a Z."""
    rest = z - 0.7
    return rest - math.exp(-0.7487 - 3.295 * rest + 0.6119 * rest**2 - 0.3193 * rest**3)
