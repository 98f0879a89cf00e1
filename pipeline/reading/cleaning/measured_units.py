"""Units of measured quantities: the words shops and laboratories write, to the quantity's own unit by pint."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from draincurve.pipeline.reading.cleaning.units_of_measurement import WORDS, converted
from draincurve.schemas.quantities import Quantity, UnitKind

_MORE: dict[str, str] = {
    "milligram / kilogram": "mg/kg, ppm, mgkg, ug/g, µg/g, μg/g, mg/kg., ppmw, wtppm, ppmm",
    "percent": "%, pct, percent, per cent, % m/m, wt%, mass%, %wt, m%",
    "micrometer": "um, µm, μm, micron, microns, micrometre, micrometres, micrometer",
    "thou": "thou, mil, mils",
    "milliliter / hour": "ml/h, ml/hr, ml per hour, ml per h, cc/h, cc/hr, ccm/h, mlh",
    "milliliter / minute": "ml/min, cc/min",
    "milliliter / day": "ml/day, ml/d, cc/day",
    "liter / hour": "l/h, l/hr",
    "1 / milliliter": "1/ml, /ml, per ml, particles/ml, counts/ml, p/ml, count/ml, particlesperml, perml",
    "1 / (100 * milliliter)": "1/100ml, /100ml, per 100 ml, particles/100ml, counts/100ml",
    "meter ** 2 / second": "m2/s, m²/s",
    "centipoise": "cp, mpas, mpa·s, mpa.s",
}
"""pint unit: the words for it, squashed; beside the volumes, lengths and viscosities of other columns."""

_TARGETS: dict[UnitKind, str] = {
    "volume": "milliliter",
    "length": "millimeter",
    "leak rate": "milliliter / hour",
    "viscosity": "millimeter ** 2 / second",
    "mass share": "milligram / kilogram",
    "particle count": "1 / milliliter",
}
_POSSIBLE: dict[UnitKind, str] = {
    "volume": "ml, cc, cl or l",
    "length": "mm, um or in",
    "leak rate": "ml/h",
    "viscosity": "mm2/s or cSt",
    "mass share": "mg/kg, ppm or %",
    "particle count": "1/ml or 1/100ml",
    "number": "no unit",
}
_NO_UNIT = ("", "-", "class", "code", "iso", "iso4406", "colour", "color", "d1500", "astm", "number", "no", "1")


def _squashed(word: str) -> str:
    """A unit without case and spaces; dots stay out, but for the one that multiplies."""
    return re.sub(r"[\s.\u00a0]+", "", word).casefold()


_WORDS = WORDS | {_squashed(word): unit for unit, words in _MORE.items() for word in words.split(", ")}


@dataclass(frozen=True, slots=True)
class MeasuredFactor:
    """What one of a unit is in the quantity's own, or the reason why it does not fit."""

    factor: float | None
    reason: str | None = None


@cache
def measured_factor(word: str, quantity: Quantity) -> MeasuredFactor:
    """Factor from a unit as typed to the quantity's unit.

    No offset: none of these quantities is a temperature. ppm and % are taken by mass, as laboratories report them.
    """
    possible = _POSSIBLE[quantity.unit_kind]
    squashed = _squashed(word)
    if quantity.unit_kind == "number":
        fits = squashed in _NO_UNIT
        return MeasuredFactor(1.0 if fits else None, None if fits else f"'{word.strip()}' is no unit for "
                              f"{quantity.title}: write {possible}")  # fmt: skip
    unit = _WORDS.get(squashed)
    if unit is None:
        return MeasuredFactor(None, f"unit '{word.strip()}' is not known for {quantity.title}: write {possible}")
    factor = converted(unit, _TARGETS[quantity.unit_kind])
    if factor is None:
        return MeasuredFactor(None, f"'{word.strip()}' does not measure {quantity.title}: write {possible}")
    return MeasuredFactor(factor)


def own_unit(word: str) -> str:
    """A unit of a quantity that is not known, spelt one way, so that equal units compare equal."""
    return _WORDS.get(_squashed(word), _squashed(word))
