"""Pairs of units that are the left and the right leg of one fork, by machine and position.

Hours and oil follow the unit and not the motorcycle, so a pair is what the register has together now.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import polars as pl

LEFT = frozenset({"left", "l", "lh", "lhs"})
RIGHT = frozenset({"right", "r", "rh", "rhs"})
REAR = frozenset({"rear", "back"})
FUNCTIONS = {
    "spring": "spring",
    "damping": "damping",
    "damper": "damping",
    "cartridge": "damping",
    "air": "air",
    "rebound": "rebound",
    "compression": "compression",
}
"""Word of a position to the function of the leg: some forks have a spring leg and a damping leg."""

_PAIRED = ("site", "machine", "end")

TOO_FEW = "too few drains or pairs"


@dataclass(frozen=True, slots=True)
class LegPair:
    """The two legs of one machine, by their unit keys, and whether they differ by design.

    by_function : why the legs differ by design, empty where they do not; no leg of such a pair is named
    channel : on which the pair was judged, empty where it was not
    hours_ratio, low, high : hours that oil lasts in the left leg over those in the right, posterior median and 90 %
    range; usual_ratio : hours ratio, larger over smaller, that one pair in ten exceeds by the usual differences
    p_adjusted : by Holm's method over all pairs and channels, None where it was not tested
    drains_left, drains_right : rated drains; named : the leg in which oil lasts less, where the legs differ
    """

    machine: str
    left: str
    right: str
    by_function: str = ""
    verdict: str = TOO_FEW
    channel: str = ""
    hours_ratio: float | None = None
    low: float | None = None
    high: float | None = None
    usual_ratio: float | None = None
    p_adjusted: float | None = None
    drains_left: int = 0
    drains_right: int = 0
    named: str | None = None


def leg_pairs(state: pl.DataFrame) -> tuple[tuple[LegPair, ...], tuple[str, ...]]:
    """Pairs of the units in service, and sentences on machines whose legs cannot be paired.

    state : one row a unit, with unit_key, site, machine, position and spring_type, as `fleet_state` gives it.
    """
    legs = (
        state.select("unit_key", "site", "machine", "position", "spring_type")
        .drop_nulls(["machine", "position"])
        .with_columns(
            pl.col("position").map_elements(_side, return_dtype=pl.String).alias("side"),
            pl.col("position").map_elements(_end, return_dtype=pl.String).alias("end"),
            pl.col("position").map_elements(_function, return_dtype=pl.String).alias("function"),
        )
        .filter(pl.col("side") != "")
        .sort("unit_key")
    )
    pairs: list[LegPair] = []
    unclear: list[str] = []
    for (_, machine, _), rows in legs.group_by(*_PAIRED, maintain_order=True):
        sides = [rows.filter(pl.col("side") == side).to_dicts() for side in ("left", "right")]
        if [len(side) for side in sides] == [1, 1]:
            left, right = sides[0][0], sides[1][0]
            pairs.append(LegPair(str(machine), left["unit_key"], right["unit_key"], _by_function(left, right)))
        elif rows.height > 1:
            names = ", ".join(rows["unit_key"].to_list())
            unclear.append(
                f"{machine} has {len(sides[0])} left and {len(sides[1])} right legs in service ({names}), so nothing "
                "says which two are a pair: correct their positions in the register."
            )
    return tuple(pairs), tuple(unclear)


def partners(pairs: tuple[LegPair, ...]) -> dict[str, str]:
    """Key of each paired unit to the key of the other leg."""
    return {leg: partner for pair in pairs for leg, partner in ((pair.left, pair.right), (pair.right, pair.left))}


def _words(position: str) -> list[str]:
    """Words of a position, in which "L.H." and "l/h" are one word."""
    joined = re.sub(r"\b([lr])[./]\s?h\b\.?", r"\1h", position.casefold())
    return re.findall(r"[^\W\d_]+", joined)


def _side(position: str) -> str:
    words = set(_words(position))
    left, right = bool(words & LEFT), bool(words & RIGHT)
    if left == right:
        return ""
    return "left" if left else "right"


def _end(position: str) -> str:
    return "rear" if set(_words(position)) & REAR else "front"


def _function(position: str) -> str:
    return " and ".join(sorted({FUNCTIONS[word] for word in _words(position) if word in FUNCTIONS}))


def _by_function(left: dict[str, str | None], right: dict[str, str | None]) -> str:
    """Why the two legs differ by design; empty where they do not."""
    if left["function"] != right["function"]:
        functions = [leg["function"] or "a purpose not written down" for leg in (left, right)]
        return f"by their positions the left leg is for {functions[0]}, the right for {functions[1]}"
    springs = (left["spring_type"], right["spring_type"])
    if None not in springs and springs[0] != springs[1]:
        return f"the left leg runs {springs[0]}, the right {springs[1]}"
    return ""
