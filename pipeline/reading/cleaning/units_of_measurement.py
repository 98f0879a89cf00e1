"""Units that shops write, each with its pint unit; pint gives the factor and the check of dimension."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

import pint

from draincurve.schemas.columns import Kind

_REGISTRY: pint.UnitRegistry[float] = pint.UnitRegistry(on_redefinition="raise")

_PINT_UNITS: dict[str, str] = {
    "hour": "h, hr, hrs, hour, hours, std, stunden",
    "minute": "min, mins, minute, minutes, m, mn, '",
    "second": "s, sec, secs, second, seconds",
    "day": "d, day, days",
    "week": "w, wk, wks, week, weeks",
    "month": "mo, month, months, mth, mths",
    "year": "y, yr, yrs, year, years",
    "milliliter": "ml, cc, ccm, cm3, cm³, millilitre, millilitres, milliliter, milliliters, mls, ccs",
    "centiliter": "cl, centilitre, centilitres, centiliter, centiliters",
    "deciliter": "dl, decilitre, decilitres, deciliter, deciliters",
    "liter": "l, lt, ltr, ltrs, litre, litres, liter, liters, dm3, dm³",
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
"""pint unit: the words for it, squashed. `oz` is the US fluid ounce, because it is asked for volumes only."""

WORDS: dict[str, str] = {word.strip(): unit for unit, words in _PINT_UNITS.items() for word in words.split(", ")}

TARGETS: dict[Kind, str] = {
    "run hours": "hour",
    "standing time": "hour",
    "volume": "milliliter",
    "oil age": "day",
    "viscosity": "millimeter ** 2 / second",
}
"""Kinds of column that carry a unit, with the unit after cleaning."""

_NAMES: dict[Kind, tuple[str, str]] = {
    "run hours": ("hours run", "h or min"),
    "standing time": ("a time", "min, h, day or week"),
    "volume": ("a volume", "ml, cc, cl, l or fl oz"),
    "oil age": ("a length of time", "days, weeks or months"),
    "viscosity": ("a kinematic viscosity", "mm2/s"),
}
_CALENDAR = ("day", "week", "month", "year")


@dataclass(frozen=True, slots=True)
class UnitFactor:
    """What one of a unit is in the unit after cleaning, or the reason why it does not fit."""

    factor: float | None
    reason: str | None = None


def squashed_unit(word: str) -> str:
    """A unit without case, spaces and dots, as the table of words has it."""
    return re.sub(r"[\s.\u00a0]+", "", word).casefold()


@cache
def unit_factor(word: str, kind: Kind) -> UnitFactor:
    """Factor from a unit as typed to the unit of that kind of column.

    Calendar units do not measure hours run: a unit that was in use for two days did not run 48 hours.
    """
    name, possible = _NAMES[kind]
    unit = WORDS.get(squashed_unit(word))
    if unit is None:
        return UnitFactor(None, f"unit '{word.strip()}' is not known for {name}: write {possible}")
    if kind == "run hours" and unit in _CALENDAR:
        return UnitFactor(None, f"'{word.strip()}' does not say {name}: write {possible}")
    factor = converted(unit, TARGETS[kind])
    return UnitFactor(factor, None if factor is not None else f"'{word.strip()}' is not {name}: write {possible}")


def converted(unit: str, target: str) -> float | None:
    """What one of a unit is in another, both in pint's words; None where they measure different things."""
    try:
        one = 1.0 * _REGISTRY.parse_expression(unit)
        return float(one.to(_REGISTRY.parse_units(target)).magnitude)
    except pint.DimensionalityError:
        return None


def fits(word: str, kind: Kind) -> bool:
    """Whether a word is a unit of that kind of column."""
    return kind in TARGETS and unit_factor(word, kind).factor is not None


def is_unit(word: str) -> bool:
    """Whether a word is any unit at all."""
    return squashed_unit(word) in WORDS
