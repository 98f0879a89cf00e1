"""Quantities that shops and laboratories measure beside the ratings: unit, plausible values, clock and direction."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

Clock = Literal["oil", "part"]
"""oil : hours on the oil that the reading is of;  part : hours on the part since it was new or rebuilt."""

Worse = Literal["rising", "falling", "either"]
Scale = Literal["linear", "log"]
UnitKind = Literal["volume", "length", "leak rate", "viscosity", "mass share", "particle count", "number"]

CODE_SIZES_UM = (4, 6, 14)
"""Particle sizes of an ISO 4406 code such as 18/16/13, in micrometres, in the code's order."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """One measured quantity.

    unit : after cleaning. low, high : plausible values, a reading outside is held back. clock : the hours over which
    it changes. worse : the direction of wear. scale : on which it changes evenly with hours. from_new : whether the
    trade judges it by its change from new oil or a new part. words : further names that shops type.
    """

    name: str
    title: str
    meaning: str
    unit: str
    unit_kind: UnitKind
    low: float
    high: float
    clock: Clock
    worse: Worse
    scale: Scale = "linear"
    from_new: bool = False
    words: str = ""


def _element(name: str, symbol: str, meaning: str, foreign: str) -> Quantity:
    """A metal in the oil, by emission spectrometry."""
    words = ", ".join(
        f"{spelling}{rest}"
        for spelling in (name, symbol, f"{name} {symbol}", f"{symbol} {name}", *foreign.split(", "))
        for rest in ("", " ppm", " content", " in oil", " mgkg")
    )
    return Quantity(name, f"{name.capitalize()} in the oil", meaning, "mg/kg", "mass share", 0, 20_000, "oil",
                    "rising", words=words)  # fmt: skip


def _particles(size: int) -> tuple[Quantity, Quantity]:
    """Particles over one size: as a count, and as the class in an ISO 4406 code."""
    spoken = (f"{size} um", f"{size} µm", f"{size} micron", f"{size} microns", f"{size}")
    words = ", ".join(
        f"{start} {end}"
        for start in ("particles", "particles over", "particles >", "particle count", "count", "count over")
        for end in spoken
    )
    return (
        Quantity(f"particles_{size}um", f"Particles over {size} um", f"particles over {size} um(c) in one millilitre",
                 "1/ml", "particle count", 0, 1e8, "oil", "rising", "log", words=words),
        Quantity(f"iso_code_{size}um", f"ISO 4406 class over {size} um",
                 f"class of particles over {size} um(c) in an ISO 4406 code; each class doubles the count", "class",
                 "number", 0, 28, "oil", "rising",
                 words=f"iso {size}, iso code {size}, iso 4406 {size}, iso class {size}"),
    )  # fmt: skip


QUANTITIES: tuple[Quantity, ...] = (
    Quantity("volume_lost", "Volume lost", "oil filled less oil drained, of one fill", "ml", "volume", -100, 2000,
             "oil", "rising", words="oil lost, volume loss, oil loss, lost volume, loss, ml lost"),
    Quantity("spring_free_length", "Spring free length", "length of the spring out of the unit, unloaded", "mm",
             "length", 10, 1000, "part", "falling", from_new=True,
             words="free length, spring length, fork spring free length, spring free len, main spring free length"),
    Quantity("bush_clearance", "Bush clearance", "play between bush and tube", "mm", "length", 0, 5, "part", "rising",
             words="clearance, bushing clearance, bush play, bushing play, guide clearance, bush gap, bush wear"),
    Quantity("seal_weep", "Seal weep", "oil past the seal in an hour of riding", "ml/h", "leak rate", 0, 500, "part",
             "rising", words="weep, seal leak, seal leakage, weeping, seal weeping, leak rate"),
    Quantity("viscosity_40", "Viscosity at 40 C", "kinematic viscosity of the used oil at 40 C", "mm2/s",
             "viscosity", 1, 2000, "oil", "either", "log", True,
             "kv40, kv 40, viscosity at 40, viscosity at 40 c, viscosity 40c, kv40c, v40, kinematic viscosity 40, "
             "kinematic viscosity at 40 c, visc 40, visc40, viscosity 40 °c, viscosity at 40 °c"),
    Quantity("viscosity_100", "Viscosity at 100 C", "kinematic viscosity of the used oil at 100 C", "mm2/s",
             "viscosity", 0.5, 300, "oil", "either", "log", True,
             "kv100, kv 100, viscosity at 100, viscosity at 100 c, viscosity 100c, kv100c, v100, "
             "kinematic viscosity 100, kinematic viscosity at 100 c, visc 100, visc100, viscosity 100 °c, "
             "viscosity at 100 °c"),
    _element("iron", "Fe", "iron in the oil: spring, tube or rod; emission spectrometry largely misses particles "
             "above some 5 to 15 um", "eisen, fer, hierro, ferro"),
    _element("copper", "Cu", "copper in the oil: bushes of bronze", "kupfer, cuivre, cobre, rame"),
    _element("aluminium", "Al", "aluminium in the oil: tube, piston", "alu, aluminio, alluminio"),
    _element("silicon", "Si", "silicon in the oil: dust past the seals, or an additive against foam",
             "silizium, silicium, silicio"),
    _element("chromium", "Cr", "chromium in the oil: plating of tube or rod", "chrom, chrome, cromo"),
    _element("tin", "Sn", "tin in the oil: bushes", "zinn, étain, estaño, stagno"),
    Quantity("water", "Water in the oil", "water in the oil, by mass", "mg/kg", "mass share", 0, 500_000, "oil",
             "rising", words="water content, h2o, water ppm, moisture, karl fischer, water percent, water %, "
             "wasser, wassergehalt, eau, agua, acqua"),
    *(quantity for size in CODE_SIZES_UM for quantity in _particles(size)),
    Quantity("colour_d1500", "ASTM D1500 colour", "colour by ASTM D1500, 0.5 to 8; dyed oils lie outside it, and the "
             "ratings 1 to 5 have no fixed mapping to it", "colour number", "number", 0, 8.5, "oil", "rising",
             words="d1500, astm d1500, astm colour, astm color, d 1500 colour, d1500 color, iso 2049"),
)  # fmt: skip
"""Their limits are what is plausible for a fork or shock, not what is fit to ride (common practice, no source)."""

QUANTITY_OF: dict[str, Quantity] = {quantity.name: quantity for quantity in QUANTITIES}

CODE_NAMES = ("iso code", "iso 4406", "iso 4406 code", "particle code", "cleanliness code", "cleanliness",
              "particles", "particle count", "iso cleanliness", "iso cleanliness code")  # fmt: skip
"""Names under which a whole code such as 18/16/13 is typed."""

ISO_CODE = "iso_code"
"""Quantity of a row that holds a whole ISO 4406 code."""


def squashed_name(text: str) -> str:
    """A quantity's name without case, spaces and punctuation; "aluminum" is aluminium."""
    return re.sub(r"[\W_]+", "", text.casefold()).replace("aluminum", "aluminium").replace("clr", "clearance")


def _names() -> dict[str, str]:
    names = {squashed_name(name): ISO_CODE for name in CODE_NAMES}
    for quantity in QUANTITIES:
        for word in (quantity.name, quantity.title, *quantity.words.split(",")):
            names.setdefault(squashed_name(word), quantity.name)
    return names


NAMES: dict[str, str] = _names()
"""Squashed name as typed to the quantity's name."""


def known_quantity(typed: str) -> str | None:
    """Name of the quantity that a typed name means, or None."""
    return NAMES.get(squashed_name(typed))


VISCOSITY_LOOKS = (5.0, 10.0)
"""Change from new [%] for a look and for action: a common industrial start (trade literature), no maker's limit."""

OF_THE_OIL_ONLY = ("viscosity_40", "viscosity_100", "colour_d1500")
"""Quantities of the oil alone: past their limit they call for no inspection, since the next drain ends them."""

SHOWN_COLD_C = 20.0
"""Temperature [C] at which every table shows a viscosity: a cold workshop."""

USUAL_C = 60.0
"""Default temperature [C] of the last column: oil in a unit at work (common practice)."""
