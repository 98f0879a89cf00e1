"""The nonparametric check: share of drains past the limit by hours, as isotonic regression.

For current-status data the nonparametric maximum-likelihood estimate of the distribution of hours to the limit is the
isotonic regression of "past the limit" on hours (Ayer, Brunk, Ewing, Reid & Silverman 1955, Ann. Math. Stat. 26,
641-647; Groeneboom & Wellner 1992).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.optimize import isotonic_regression

from draincurve.schemas.array_types import Floats, Integers


@dataclass(frozen=True, slots=True)
class IsotonicEstimate:
    """Isotonic (nonparametric maximum-likelihood) estimate of the share of drains past the limit by hours."""

    hours: Floats
    share: Floats
    drains: Integers


def isotonic_estimate(hours: Floats, past_limit: Floats) -> IsotonicEstimate:
    """Isotonic share past the limit at each distinct number of hours.

    hours : (n,) [h]; past_limit : (n,), 1 or 0.
    """
    at_hours = (
        pl.DataFrame({"hours": hours, "past": past_limit})
        .group_by("hours")
        .agg(pl.col("past").mean(), pl.len().cast(pl.Int64).alias("drains"))
        .sort("hours")
    )
    drains = at_hours["drains"].to_numpy()
    fitted = isotonic_regression(at_hours["past"].to_numpy(), weights=drains.astype(np.float64)).x
    return IsotonicEstimate(at_hours["hours"].to_numpy(), np.asarray(fitted, dtype=np.float64), drains)
