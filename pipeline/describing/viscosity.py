"""From two kinematic viscosities of an oil: ISO viscosity grade, viscosity index, viscosity at any temperature.

The code is ours, since the one library that has it brings a large collection of chemical data with it.
"""

from __future__ import annotations

import math
from csv import DictReader
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np

from draincurve.schemas.array_types import Floats

ISO_GRADES = (
    2.2, 3.2, 4.6, 6.8, 10.0, 15.0, 22.0, 32.0, 46.0, 68.0, 100.0, 150.0, 220.0, 320.0, 460.0, 680.0, 1000.0, 1500.0,
    2200.0, 3200.0,
)  # fmt: skip
"""Midpoint of each grade of ISO 3448 at 40 C [mm2/s]. A grade's name is its midpoint as a whole number."""

ISO_TOLERANCE = 0.1

LEAST_KV100 = 2.0
"""Viscosity at 100 C [mm2/s] below which ASTM D2270 gives no index."""

KELVIN = 273.15
COLDEST_C, HOTTEST_C = -40.0, 150.0
"""Temperatures [C] between which a viscosity is given: in the cold oils stiffen more than ASTM D341 says."""

LEAST_VISCOSITY = 0.21
"""Thinnest oil [mm2/s] for which ASTM D341 holds."""


def grade_limits(midpoint: float) -> tuple[float, float]:
    """Lowest and highest viscosity [mm2/s] at 40 C of a grade."""
    return round(midpoint * (1 - ISO_TOLERANCE), 4), round(midpoint * (1 + ISO_TOLERANCE), 4)


def grade_name(midpoint: float) -> str:
    """Name of a grade, such as "VG 32"."""
    return f"VG {midpoint:.0f}"


def iso_grade(kv40: float) -> str:
    """Grade of an oil by ISO 3448, or its neighbours: "VG 32", "between VG 15 and VG 22", "under VG 2"."""
    for midpoint in ISO_GRADES:
        low, high = grade_limits(midpoint)
        if low <= kv40 <= high:
            return grade_name(midpoint)
    below = [midpoint for midpoint in ISO_GRADES if midpoint < kv40]
    if not below:
        return f"under {grade_name(ISO_GRADES[0])}"
    if len(below) == len(ISO_GRADES):
        return f"over {grade_name(ISO_GRADES[-1])}"
    return f"between {grade_name(below[-1])} and {grade_name(ISO_GRADES[len(below)])}"


def viscosity_index(kv40: float, kv100: float) -> float | None:
    """Viscosity index by ASTM D2270, not rounded. None where kv100 is under 2 mm2/s or not under kv40.

    kv40, kv100 [mm2/s]. Procedure A is used up to an index of 100, procedure B above it.
    """
    if not LEAST_KV100 <= kv100 < kv40:
        return None
    lowest, highest = basis(kv100)
    if kv40 >= highest:
        return 100.0 * (lowest - kv40) / (lowest - highest)
    power = (math.log10(highest) - math.log10(kv40)) / math.log10(kv100)
    return (math.pow(10.0, power) - 1.0) / 0.00715 + 100.0


def rounded_index(index: float) -> int:
    """An index as the standard reports it: the nearest whole number, a half to the even one."""
    return round(index)


def basis(kv100: float) -> tuple[float, float]:
    """L and H [mm2/s]: viscosities at 40 C of oils of index 0 and 100 with this viscosity at 100 C, 2 mm2/s or more.

    Up to 70 mm2/s they are interpolated in the standard's table, above it they follow from its two formulas.
    """
    table = _basis_table()
    if kv100 > table[-1, 0]:
        return 0.8353 * kv100**2 + 14.67 * kv100 - 216.0, 0.1684 * kv100**2 + 11.85 * kv100 - 97.0
    lowest, highest = (float(np.interp(kv100, table[:, 0], table[:, column])) for column in (1, 2))
    return lowest, highest


@cache
def _basis_table() -> Floats:
    """Columns kv100, L, H [mm2/s]."""
    text = files("draincurve.pipeline.describing").joinpath("viscosity_index_basis.csv").read_text(encoding="utf-8")
    rows = [[float(row[name]) for name in ("kv100", "L", "H")] for row in DictReader(text.splitlines())]
    return np.array(rows)


@dataclass(frozen=True, slots=True)
class WaltherLine:
    """The line of ASTM D341: log10 log10 Z = intercept - slope * log10 T, with T in kelvin."""

    intercept: float
    slope: float

    def viscosity_at(self, celsius: float) -> float | None:
        """Kinematic viscosity [mm2/s] at a temperature [C]. None outside the standard's range."""
        if not COLDEST_C <= celsius <= HOTTEST_C:
            return None
        double_log = self.intercept - self.slope * math.log10(celsius + KELVIN)
        if double_log > math.log10(12.0):  # above 1e12 mm2/s, which is no oil
            return None
        viscosity = viscosity_of(10.0 ** (10.0**double_log))
        return viscosity if viscosity >= LEAST_VISCOSITY else None


def walther_line(kv40: float, kv100: float, *, kelvin: float = KELVIN) -> WaltherLine | None:
    """The line through two viscosities [mm2/s]. None where kv100 is not under kv40, or under the standard's range.

    kelvin : offset from C; older worksheets use 273.
    """
    if not LEAST_VISCOSITY <= kv100 < kv40:
        return None
    at_40, at_100 = (math.log10(math.log10(z_of(value))) for value in (kv40, kv100))
    log_40, log_100 = math.log10(40.0 + kelvin), math.log10(100.0 + kelvin)
    slope = (at_40 - at_100) / (log_100 - log_40)
    return WaltherLine(at_40 + slope * log_40, slope)


def z_of(viscosity: float) -> float:
    """Z of a viscosity [mm2/s] of 0.21 or more."""
    return viscosity + 0.7 + math.exp(-1.47 - 1.84 * viscosity - 0.51 * viscosity**2)


def viscosity_of(z: float) -> float:
    """Viscosity [mm2/s] of a Z, by the standard's approximate inverse: a round trip is exact to about 0.01 %."""
    rest = z - 0.7
    return rest - math.exp(-0.7487 - 3.295 * rest + 0.6119 * rest**2 - 0.3193 * rest**3)
