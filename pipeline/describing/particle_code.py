"""ISO 4406 cleanliness code: three scale numbers for particles over 4, 6 and 14 um(c) in one millilitre of oil.

Written against the table of ISO 4406:1999 as public catalogues reprint it (scale numbers 0 to 28; what lies past 28
is from memory). Ratings by eye have no mapping to it: it counts far smaller particles than are seen in a tray.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from dataclasses import dataclass
from itertools import pairwise

UP_TO = (
    0.01, 0.02, 0.04, 0.08, 0.16, 0.32, 0.64, 1.3, 2.5, 5.0, 10.0, 20.0, 40.0, 80.0, 160.0, 320.0, 640.0, 1300.0,
    2500.0, 5000.0, 10000.0, 20000.0, 40000.0, 80000.0, 160000.0, 320000.0, 640000.0, 1300000.0, 2500000.0,
)  # fmt: skip
"""Most particles in 1 ml of each scale number, from 0; a scale number begins just over the one before it."""

HIGHEST = len(UP_TO) - 1
FEWEST_COUNTED = 20
"""With fewer particles counted than this, a scale number is written with ">=" before it."""

SIZES_UM = (4, 6, 14)
_PART = r"\s*(>=|≥|>)?\s*(\d{1,2}|\*|-)\s*"
_CODE = re.compile("/".join([_PART] * 3))


@dataclass(frozen=True, slots=True)
class ScaleNumber:
    """One of the three numbers: None where the size was not counted.

    at_least : fewer than 20 particles were counted, so the true number may be higher; over : past the last number.
    """

    number: int | None
    at_least: bool = False
    over: bool = False

    @property
    def limits(self) -> tuple[float, float | None] | None:
        """Particles in 1 ml: more than the first, at most the second (None: no end); None where not counted."""
        if self.number is None:
            return None
        if self.over:
            return UP_TO[HIGHEST], None
        low = UP_TO[self.number - 1] if self.number else 0.0
        return low, None if self.at_least else UP_TO[self.number]

    def __str__(self) -> str:
        if self.number is None:
            return "*"
        return f"{'>' if self.over else '>=' if self.at_least else ''}{self.number}"


def scale_number(per_ml: float, counted: int | None = None) -> ScaleNumber:
    """The scale number of a count.

    per_ml : particles in 1 ml, 0 or more; counted : particles behind it, None where not known.
    Raises ValueError for a negative count.
    """
    if not per_ml >= 0:
        raise ValueError(f"{per_ml} particles in 1 ml: expected 0 or more")
    at_least = counted is not None and counted < FEWEST_COUNTED
    if per_ml > UP_TO[HIGHEST]:
        return ScaleNumber(HIGHEST, over=True)
    return ScaleNumber(bisect_left(UP_TO, per_ml), at_least)


def encode(per_ml: tuple[float | None, float | None, float | None]) -> str:
    """Code of counts over 4, 6 and 14 um(c) in 1 ml, None where a size was not counted: "22/19/14".

    Raises ValueError for a negative count, or for more particles over a larger size than over a smaller one.
    """
    known = [count for count in per_ml if count is not None]
    if any(larger > smaller for smaller, larger in pairwise(known)):
        raise ValueError(f"counts {known}: there cannot be more particles over a larger size than over a smaller")
    return "/".join(str(ScaleNumber(None) if count is None else scale_number(count)) for count in per_ml)


def decode(code: str) -> tuple[ScaleNumber, ScaleNumber, ScaleNumber] | None:
    """The three scale numbers of a code such as "22/19/14" or "14/12/>=7"; None where the text is no such code.

    An older code of two numbers has no count over 4 um(c): write it "-/19/14". A code whose numbers rise from a
    smaller size to a larger is refused too.
    """
    match = _CODE.fullmatch(code)
    if match is None:
        return None
    numbers = [_read(mark or "", text) for mark, text in zip(match.groups()[::2], match.groups()[1::2], strict=True)]
    known = [item.number for item in numbers if item.number is not None]
    if any(number > HIGHEST for number in known) or known != sorted(known, reverse=True):
        return None
    first, second, third = numbers
    return first, second, third


def _read(mark: str, text: str) -> ScaleNumber:
    if text in ("*", "-"):
        return ScaleNumber(None)
    number = int(text)
    return ScaleNumber(number, at_least=mark in (">=", "≥"), over=mark == ">" and number == HIGHEST)
