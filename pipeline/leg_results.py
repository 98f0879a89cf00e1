"""What was found about left and right legs: the hand-over from the judging of pairs to the reports."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

ALIKE = "like other pairs"
DIFFERS = "differs from its partner"
BY_FUNCTION = "differs by function"
TOO_FEW = "too few drains or pairs"

FALSE_ALARM = 0.10
"""Chance that any pair is named, or any swap asked about, in a fleet without one (our choice)."""


@dataclass(frozen=True, slots=True)
class LegPair:
    """Two legs of one machine; units by their keys, which are their names in the reports.

    by_function : why the two legs are not built alike, empty where nothing says so; such a pair is never blamed.
    channel : on which it was judged, empty where neither was; hours_ratio, low, high : hours that oil lasts in the
    left leg over those in the right, posterior median and 90 % range; usual_ratio : hours ratio, larger over smaller,
    that one pair in ten passes by what pairs usually differ; p_adjusted : Holm, over all pairs and channels, None
    where it was not tested; drains_left, drains_right : rated drains behind it; named : the leg in which oil lasts
    less, where the verdict is that it differs.
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


@dataclass(frozen=True, slots=True)
class PossibleSwap:
    """Entries of two legs that fit each other's history better than their own: asked about, never rewritten.

    first_on : day of the entries; from_then_on : all entries from that day fit better swapped, else those of that
    day alone; times_likelier : how much likelier the pair's ratings are with them swapped; by_meter : the hour meters
    of both legs carry on only if they are swapped.
    """

    machine: str
    left: str
    right: str
    first_on: date
    from_then_on: bool
    times_likelier: float
    by_meter: bool


@dataclass(frozen=True, slots=True)
class LegResult:
    """Pairs of the units in service.

    partners : unit key to the key of the other leg, both ways; unclear : sentences on machines whose legs cannot be
    paired.
    """

    partners: Mapping[str, str] = field(default_factory=dict)
    pairs: tuple[LegPair, ...] = ()
    swaps: tuple[PossibleSwap, ...] = ()
    unclear: tuple[str, ...] = ()
