"""How large the share past the limit may still be where few drains, or none, were past it: exact binomial bounds.

Nothing seen is not nothing there. The upper bound is that of Clopper & Pearson (1934, Biometrika 26, 404-413),
through statsmodels. It is given twice: as if every drain were a look of its own, and with each unit counted once,
since drains of one unit are alike; the truth lies between the two.
"""

from __future__ import annotations

import polars as pl
from scipy.special import betaincinv

from draincurve.pipeline.trust_results import CONFIDENCE, CleanBounds

FEW_PAST = 2
"""Up to this many drains past the limit the bounds are worth saying."""


def exact_upper_bound(past: int, looks: int, confidence: float = CONFIDENCE) -> float:
    """Largest share past the limit that `past` of `looks` still allows, one-sided; 1 without a look."""
    return 1.0 if past == looks else float(betaincinv(past + 1, looks - past, confidence))


def clean_bounds(channel: str, limit: int, rows: pl.DataFrame) -> CleanBounds | None:
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
