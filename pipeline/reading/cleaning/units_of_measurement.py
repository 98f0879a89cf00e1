"""Units as shops and laboratories write them; pint gives the factors and checks the dimensions."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from draincurve.schemas.columns import Kind
from draincurve.schemas.quantities import Quantity, UnitKind

if TYPE_CHECKING:
    import pint

_UNITS: dict[str, str] = {
    "hour": "h, hr, hrs, hour, hours, std, stunde, stunden, heure, heures, hora, horas, ora, ore",
    "minute": "min, mins, minute, minutes, m, mn, ', minuten, minuto, minutos, minuti",
    "second": "s, sec, secs, second, seconds, sek, sekunden, secondes, segundos, secondi",
    "day": "d, day, days, tag, tage, jour, jours, j, dia, día, dias, días, giorno, giorni",
    "week": "w, wk, wks, week, weeks, woche, wochen, semaine, semaines, semana, semanas, settimana, settimane",
    "month": "mo, month, months, mth, mths, monat, monate, mois, mes, meses, mese, mesi",
    "year": "y, yr, yrs, year, years, jahr, jahre, an, ans, année, années, año, años, anno, anni",
    "milliliter": "ml, cc, ccm, cm3, cm³, millilitre, millilitres, milliliter, milliliters, mls, ccs",
    "centiliter": "cl, centilitre, centilitres, centiliter, centiliters",
    "deciliter": "dl, decilitre, decilitres, deciliter, deciliters",
    "liter": "l, lt, ltr, ltrs, litre, litres, liter, liters, dm3, dm³, litro, litros, litri",
    "fluid_ounce": "oz, floz, usfloz, ounce, ounces, fluidounce, fluidounces, ozs",
    "imperial_fluid_ounce": "impfloz, imperialfloz, ukfloz, impoz, imperialoz",
    "pint": "pt, pint, pints",
    "quart": "qt, qts, quart, quarts",
    "millimeter ** 2 / second": "mm2/s, mm²/s, mm^2/s, cst, centistokes, centistoke",
    "millimeter": "mm, millimetre, millimetres, millimeter, millimeters",
    "centimeter": "cm, centimetre, centimetres, centimeter, centimeters",
    "inch": 'in, inch, inches, "',
    "kilometer": "km, kms, kilometre, kilometres, kilometer, kilometers",
    "mile": "mi, mile, miles",
    "gram": "g, gr, gram, grams, gramme, grammes",
    "kilogram": "kg, kgs, kilo, kilos",
    "bar": "bar",
    "psi": "psi",
}
"""Units in cells and headers: the words for each unit of pint, without spaces and dots. `oz` is the US fluid ounce,
since only volumes are written in ounces."""

_MEASUREMENT_UNITS: dict[str, str] = {
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
"""Further units, in measurements only."""


def squashed_unit(word: str) -> str:
    """A unit as the tables of words have it: lower case, without spaces and dots."""
    return re.sub(r"[\s.\u00a0]+", "", word).casefold()


def _by_word(units: dict[str, str]) -> dict[str, str]:
    return {squashed_unit(word): unit for unit, words in units.items() for word in words.split(", ")}


UNIT_OF_WORD = _by_word(_UNITS)
_MEASUREMENT_UNIT_OF_WORD = UNIT_OF_WORD | _by_word(_MEASUREMENT_UNITS)

TARGETS: dict[Kind, str] = {
    "run hours": "hour",
    "settling time": "hour",
    "volume": "milliliter",
    "oil age": "day",
    "viscosity": "millimeter ** 2 / second",
}
"""Kinds of column that have a unit, with the unit after cleaning."""

_KIND_WORDS: dict[Kind, tuple[str, str]] = {
    "run hours": ("hours run", "h or min"),
    "settling time": ("a time", "min, h, day or week"),
    "volume": ("a volume", "ml, cc, cl, l or fl oz"),
    "oil age": ("a length of time", "days, weeks or months"),
    "viscosity": ("a kinematic viscosity", "mm2/s"),
}
_QUANTITY_TARGETS: dict[UnitKind, str] = {
    "volume": "milliliter",
    "length": "millimeter",
    "leak rate": "milliliter / hour",
    "viscosity": "millimeter ** 2 / second",
    "mass share": "milligram / kilogram",
    "particle count": "1 / milliliter",
}
_QUANTITY_CHOICES: dict[UnitKind, str] = {
    "volume": "ml, cc, cl or l",
    "length": "mm, um or in",
    "leak rate": "ml/h",
    "viscosity": "mm2/s or cSt",
    "mass share": "mg/kg, ppm or %",
    "particle count": "1/ml or 1/100ml",
    "number": "no unit",
}
_NO_UNIT = ("", "-", "class", "code", "iso", "iso4406", "colour", "color", "d1500", "astm", "number", "no", "1")
"""What laboratories write as the unit of a plain number."""
_COMMON_FACTORS: dict[tuple[str, str], float | None] = {
    ("minute", "hour"): 1.0 / 60.0,
    ("day", "hour"): 24.0,
    ("week", "hour"): 168.0,
    ("month", "day"): 30.4375,
    ("year", "day"): 365.25,
    ("liter", "milliliter"): 1000.0,
    ("centiliter", "milliliter"): 10.0,
    ("fluid_ounce", "milliliter"): 29.573529562499992,
    ("millimeter", "milliliter"): None,
    ("micrometer", "millimeter"): 0.001,
    ("percent", "milligram / kilogram"): 10000.0,
}
"""pint's answers for what most logs hold, since loading pint takes as long as reading such a log."""
_CALENDAR = ("day", "week", "month", "year")


@dataclass(frozen=True, slots=True)
class UnitFactor:
    """Factor from a unit to the unit after cleaning, or the reason why there is none."""

    factor: float | None
    reason: str | None = None


@cache
def unit_factor(word: str, kind: Kind) -> UnitFactor:
    """Factor from a unit as typed to the unit of that kind of column.

    Calendar units do not measure hours run: a fork that was ridden on two days did not run 48 hours.
    """
    name, possible = _KIND_WORDS[kind]
    unit = UNIT_OF_WORD.get(squashed_unit(word))
    if unit is None:
        return UnitFactor(None, f"unit '{word.strip()}' is not known for {name}: write {possible}")
    if kind == "run hours" and unit in _CALENDAR:
        return UnitFactor(None, f"'{word.strip()}' does not say {name}: write {possible}")
    factor = _factor(unit, TARGETS[kind])
    return UnitFactor(factor, None if factor is not None else f"'{word.strip()}' is not {name}: write {possible}")


def fits(word: str, kind: Kind) -> bool:
    """Whether a word is a unit of that kind of column."""
    return kind in TARGETS and unit_factor(word, kind).factor is not None


def is_unit(word: str) -> bool:
    """Whether a word is a unit of any kind of column."""
    return squashed_unit(word) in UNIT_OF_WORD


@cache
def measurement_factor(word: str, quantity: Quantity) -> UnitFactor:
    """Factor from a unit as typed to the unit of a measured quantity.

    No offset is needed, since no quantity is a temperature. ppm and % are by mass, as laboratories report them.
    """
    possible = _QUANTITY_CHOICES[quantity.unit_kind]
    word_key = squashed_unit(word)
    if quantity.unit_kind == "number":
        if word_key in _NO_UNIT:
            return UnitFactor(1.0)
        return UnitFactor(None, f"'{word.strip()}' is no unit for {quantity.title}: write {possible}")
    unit = _MEASUREMENT_UNIT_OF_WORD.get(word_key)
    if unit is None:
        return UnitFactor(None, f"unit '{word.strip()}' is not known for {quantity.title}: write {possible}")
    factor = _factor(unit, _QUANTITY_TARGETS[quantity.unit_kind])
    if factor is None:
        return UnitFactor(None, f"'{word.strip()}' does not measure {quantity.title}: write {possible}")
    return UnitFactor(factor)


def is_measurement_unit(word: str) -> bool:
    """Whether a word is what a laboratory writes as a unit, perhaps as that of a plain number."""
    return squashed_unit(word) in _MEASUREMENT_UNIT_OF_WORD or squashed_unit(word) in _NO_UNIT[:-1]


def normalised_unit(word: str) -> str:
    """A unit of an unknown quantity in one spelling, so that equal units compare equal."""
    return _MEASUREMENT_UNIT_OF_WORD.get(squashed_unit(word), squashed_unit(word))


def _factor(unit: str, target: str) -> float | None:
    """Factor from a unit to the target, both by pint's names; None where the dimensions differ."""
    if unit == target:
        return 1.0
    if (unit, target) in _COMMON_FACTORS:
        return _COMMON_FACTORS[unit, target]
    one = 1.0 * _registry().parse_expression(unit)
    wanted = _registry().parse_units(target)
    return float(one.to(wanted).magnitude) if one.is_compatible_with(wanted) else None


@cache
def _registry() -> pint.UnitRegistry[float]:
    """All of pint's units; read only when a rarer unit is converted."""
    import pint

    return pint.UnitRegistry(on_redefinition="raise")
