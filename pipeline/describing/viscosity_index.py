"""Viscosity index from kinematic viscosities at 40 and 100 C (ASTM D2270, procedures A and B).

L and H are the viscosities at 40 C of oils of index 0 and 100 with the same viscosity at 100 C. Up to 70 mm2/s they
come from the standard's table (viscosity_index_basis.csv beside this module), straight between its lines as the
standard asks; above it from its two formulas. Every step is ours, since the one library that has it brings a whole
collection of chemical data with it.
"""

from __future__ import annotations

import math
from csv import DictReader
from functools import cache
from importlib.resources import files

import numpy as np

from draincurve.schemas.array_types import Floats

LEAST_KV100 = 2.0
"""Under this viscosity at 100 C [mm2/s] the standard gives no index."""


def viscosity_index(kv40: float, kv100: float) -> float | None:
    """The index, not rounded; None where the standard gives none (kv100 under 2 mm2/s, or not under kv40).

    kv40, kv100 [mm2/s]. Procedure A serves up to 100, procedure B from there.
    """
    if not LEAST_KV100 <= kv100 < kv40:
        return None
    lowest, highest = basis(kv100)
    if kv40 >= highest:
        return 100.0 * (lowest - kv40) / (lowest - highest)
    power = (math.log10(highest) - math.log10(kv40)) / math.log10(kv100)
    return (math.pow(10.0, power) - 1.0) / 0.00715 + 100.0


def rounded_index(index: float) -> int:
    """As the standard reports it: the nearest whole number, a half to the even one."""
    return round(index)


def basis(kv100: float) -> tuple[float, float]:
    """L and H [mm2/s] for a viscosity at 100 C of 2 mm2/s or more."""
    table = _table()
    if kv100 > table[-1, 0]:
        return 0.8353 * kv100**2 + 14.67 * kv100 - 216.0, 0.1684 * kv100**2 + 11.85 * kv100 - 97.0
    lowest, highest = (float(np.interp(kv100, table[:, 0], table[:, column])) for column in (1, 2))
    return lowest, highest


@cache
def _table() -> Floats:
    """Columns kv100, L, H [mm2/s]."""
    text = files("draincurve.pipeline.describing").joinpath("viscosity_index_basis.csv").read_text(encoding="utf-8")
    rows = [[float(row[name]) for name in ("kv100", "L", "H")] for row in DictReader(text.splitlines())]
    return np.array(rows)
