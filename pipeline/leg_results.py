"""What was found about left and right legs: the hand-over from the judging of pairs to the reports."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

ALIKE = "like other pairs"
DIFFERS = "differs from its partner"
BY_FUNCTION = "differs by function"
TOO_FEW = "too few drains"


@dataclass(frozen=True, slots=True)
class LegPair:
    """Two legs of one machine; units by their keys, which are their names in the reports.

    by_function : why the two legs are not built alike, empty where nothing says so; such a pair is never blamed.
    channel : on which it was judged; hours_ratio, low, high : hours that oil lasts in the left leg over those in the
    right, posterior median and 90 % range, None where neither was rated; chance : that the pair's difference is past
    what pairs usually show; drains_left, drains_right : rated drains behind it; named : the leg in which oil lasts
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
    chance: float | None = None
    drains_left: int = 0
    drains_right: int = 0
    named: str | None = None


@dataclass(frozen=True, slots=True)
class PossibleSwap:
    """A day from which (or on which alone) the entries of two legs fit each other's history better: asked about.

    first_on, last_on : the drains concerned, the same day for one service; log_likelihood_gain : how much likelier
    the pair's ratings are with those entries swapped (natural log); drains : services concerned.
    """

    machine: str
    left: str
    right: str
    first_on: date
    last_on: date
    drains: int
    log_likelihood_gain: float


@dataclass(frozen=True, slots=True)
class LegResult:
    """Pairs of the units in service.

    partners : unit key -> key of the other leg, both ways; usual_ratio : hours ratio that one pair in ten passes by
    chance alone, None where too few pairs tell; unclear : sentences on machines whose legs cannot be paired.
    """

    partners: Mapping[str, str] = field(default_factory=dict)
    pairs: tuple[LegPair, ...] = ()
    swaps: tuple[PossibleSwap, ...] = ()
    usual_ratio: float | None = None
    unclear: tuple[str, ...] = ()
