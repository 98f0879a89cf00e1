"""What was found about raters: the hand-over from judging to the page."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

HARSHER = "harsher"
LENIENT = "more lenient"
ALIKE = "no clear difference"
NOT_SEPARATED = "cannot be separated"

DRIFT_LEVEL = 0.025
"""Adjusted p-value under which a rater is named: over both channels, one log in 20 names somebody wrongly."""


@dataclass(frozen=True, slots=True)
class Kappa:
    """Weighted kappa with its standard error and 95 % interval, held to -1..1; None where it is undefined."""

    value: float | None
    standard_error: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class RaterAgreement:
    """Two raters on the drains that both rated, in one channel.

    same : drains with the same level; mean_difference : levels by which `second` rates dirtier than `first`.
    """

    channel: str
    first: str
    second: str
    drains: int
    same: int
    mean_difference: float
    kappa: Kappa

    @property
    def words(self) -> str:
        """The finding in plain words."""
        both = f"{self.first} and {self.second} rated {self.drains} drains both, {self.same} of them the same"
        if self.kappa.value is None:
            return f"{both}: too few, or too much alike, to say how far they agree."
        return f"{both}: agreement {_in_words(self.kappa.value)} (weighted kappa {self.kappa.value:.2f})."


@dataclass(frozen=True, slots=True)
class RaterShift:
    """One rater against the others, median with 5 % and 95 % points; draws of the shift in levels, (S,).

    drains, units : rated by them; shared_units : of these, rated by another rater too; compared_with : raters they
    can be held against. multiplier : hours at which they call a level, over the others' hours; levels :
    mean difference in levels. Both are None where nothing can be compared.
    """

    rater: str
    drains: int
    units: int
    shared_units: int
    compared_with: tuple[str, ...]
    multiplier: tuple[float, float, float] | None
    levels: tuple[float, float, float] | None
    level_draws: Floats

    @property
    def in_the_middle(self) -> bool:
        """Whether this is the rater that the others of the circle are held against."""
        return self.levels is not None and self.levels[1] == self.levels[2] == 0.0


@dataclass(frozen=True, slots=True)
class RaterDrift:
    """The trend of one rater: levels a year (above 0: ever dirtier), score in sds, p-value, adjusted over raters."""

    rater: str
    levels_per_year: float
    score: float
    p_value: float
    p_adjusted: float

    @property
    def named(self) -> bool:
        """Whether the rater is said to drift."""
        return self.p_adjusted <= DRIFT_LEVEL


@dataclass(frozen=True, slots=True)
class RaterFinding:
    """One rater in one channel: the shift, the drift (None where it cannot be tested), verdict and plain words."""

    shift: RaterShift
    drift: RaterDrift | None
    verdict: str
    words: str


@dataclass(frozen=True, slots=True)
class RaterResult:
    """One channel's raters; `why_not` is a sentence where raters cannot be compared at all."""

    channel: str
    why_not: str
    findings: tuple[RaterFinding, ...]
    agreements: tuple[RaterAgreement, ...]

    @property
    def named(self) -> tuple[RaterFinding, ...]:
        """Raters to talk to: harsher, more lenient, or drifting."""
        return tuple(
            item
            for item in self.findings
            if item.verdict in (HARSHER, LENIENT) or (item.drift is not None and item.drift.named)
        )


def _in_words(kappa: float) -> str:
    """Words for kappa, after Landis & Koch (1977, Biometrics 33, 159-174), in fewer steps."""
    if kappa >= 0.6:
        return "good"
    return "fair" if kappa >= 0.4 else "poor"
