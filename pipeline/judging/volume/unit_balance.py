"""What the balance of volumes found: for one unit, and for the fleet."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

import polars as pl

VERDICTS_SCHEMA = {"unit_key": pl.String, "verdict": pl.String}


@dataclass(frozen=True, slots=True)
class UnitBalance:
    """One unit's volumes; ml unless said otherwise.

    drains : oil changes with both volumes; fill : the usual fill; missing, missing_share : mean of filled less
    drained, and over the fill; per_hour, error, low, high [ml/h] : what goes missing with hours on the oil, its
    standard error and 90 % range, None where hours do not vary or drains are few; came_back : share of what one drain
    was short of that the next gave back, None where that is not significant; verdict : a word of volume_sentences;
    step_on : day of the drain from which more is missing; inspect : a wet seal was seen with it; reason : plain
    sentences.
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
