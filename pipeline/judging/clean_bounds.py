"""Exact binomial bounds on the share past the limit, where few drains or none were past it.

No drain past the limit does not mean no risk. The upper bound is that of Clopper & Pearson (1934, Biometrika 26,
404-413). It is given twice: with all drains as independent, and with each unit counted once, since drains of one unit
are alike; the true bound is between the two.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl
from scipy.special import betaincinv

FEW_PAST = 2
"""The bounds are given for at most this many drains past the limit."""

CONFIDENCE = 0.95
"""Confidence of the exact bounds, one-sided."""


@dataclass(frozen=True, slots=True)
class CleanBounds:
    """Counts and one-sided upper bounds of one channel.

    drains, past : drains with a rating on one side of the limit, and those past it; units, units_past : units with
    such drains, and those with one or more past it; share_of_drains, share_of_units : upper bounds at `CONFIDENCE`.
    """

    channel: str
    limit: int
    drains: int
    past: int
    units: int
    units_past: int
    share_of_drains: float
    share_of_units: float

    @property
    def text(self) -> str:
        """The bounds in one sentence."""
        seen = f"{self.past or 'None'} of {self.drains} drains {'were' if self.past > 1 else 'was'}"
        return (
            f"{seen} past the limit: at {_percent(CONFIDENCE)} confidence that only bounds the share of such drains "
            f"at {_percent(self.share_of_drains)}, and at {_percent(self.share_of_units)} when the {self.drains} "
            f"are {self.units} {'unit' if self.units == 1 else 'units'}."
        )


def _percent(share: float) -> str:
    """A share in percent, to two digits."""
    percent = 100.0 * share
    return f"{percent:.2g} %" if percent < 10.0 else f"{percent:.0f} %"


def exact_upper_bound(past: int, looks: int, *, confidence: float = CONFIDENCE) -> float:
    """Largest share past the limit that is consistent with `past` of `looks` drains, one-sided; 1 without drains."""
    return 1.0 if past == looks else float(betaincinv(past + 1, looks - past, confidence))


def clean_bounds(channel: str, limit: int, *, rows: pl.DataFrame) -> CleanBounds | None:
    """Bounds of one channel; None where no rating is on one side of the limit, or more than a few are past it.

    rows : rated drains with unit_key and the channel's low and high ratings.
    """
    low, high = pl.col(f"{channel}_low"), pl.col(f"{channel}_high")
    seen = rows.filter((low >= limit) | (high < limit)).select("unit_key", (low >= limit).alias("past"))
    by_unit = seen.group_by("unit_key").agg(pl.col("past").any())
    past, units_past = int(seen["past"].sum()), int(by_unit["past"].sum())
    if seen.height == 0 or past > FEW_PAST:
        return None
    return CleanBounds(
        channel,
        limit,
        seen.height,
        past,
        by_unit.height,
        units_past,
        exact_upper_bound(past, seen.height),
        exact_upper_bound(units_past, by_unit.height),
    )
