"""What the volumes say: the hand-over from the balance of filled and drained oil to the reports."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

import polars as pl

LOSES = "loses oil"
STEP = "more is missing than before"
SHORT = "not fully drained"
OVER = "more comes out than goes in"
USUAL = "as its way of draining leaves"
BALANCED = "balanced"
CANNOT_TELL = "cannot tell yet"

NOISE_SHARE = 0.02
"""Volume changes within this share of the fill are noise (thermal expansion is 0.07 % per C, so 20 C is 1.4 %)."""

READING_SD = NOISE_SHARE / 2
"""Least scatter of missing shares in any test: readings are no better, however alike a few of them look."""

FALSE_ALARM = 0.10
"""Chance that any unit is said to lose oil in a fleet where none does, and the same for a step (our choice)."""

VERDICTS_SCHEMA = {"unit_key": pl.String, "verdict": pl.String}


@dataclass(frozen=True, slots=True)
class UnitBalance:
    """One unit's volumes; ml unless said otherwise.

    drains : oil changes with both volumes; fill : the usual fill; missing, missing_share : mean of filled less
    drained, and over the fill; per_hour, error, low, high [ml/h] : what goes missing with hours on the oil, its
    standard error and 90 % range, None where hours do not vary or drains are few; came_back : share of what one drain
    was short of that the next gave back, None where that may be chance; verdict : one of the words above; step_on :
    day of the drain from which more is missing; inspect : a wet seal was seen with it; reason : plain sentences.
    """

    unit_key: str
    drains: int
    fill: float
    missing: float
    missing_share: float
    per_hour: float | None
    error: float | None
    low: float | None
    high: float | None
    came_back: float | None
    verdict: str
    step_on: date | None
    inspect: bool
    reason: str


@dataclass(frozen=True, slots=True)
class VolumeResult:
    """The balance of the fleet; `why_none` is a sentence where no drain has both volumes.

    units : most striking first, of a large fleet the most striking only; verdicts : columns unit_key, verdict of all
    units, in the same order; usual_share, least_share, most_share : median and 10 to 90 % of the units' missing
    shares, None with fewer than three units; carries_over : whether the fleet shows that what one drain leaves comes
    out at the next, None where drains are too few to ask; sentences : on the fleet as a whole; incomplete : drains
    that lack a volume.
    """

    units: tuple[UnitBalance, ...]
    usual_share: float | None
    least_share: float | None
    most_share: float | None
    carries_over: bool | None
    sentences: tuple[str, ...]
    incomplete: int
    why_none: str | None = None
    verdicts: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=VERDICTS_SCHEMA))
