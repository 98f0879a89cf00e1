"""One channel's risk against hours, over the posterior draws."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from draincurve.schemas.array_types import Floats, Indices
from draincurve.schemas.errors import ContractError

SHORTEST_H = 1e-3
FARTHEST_H = 1e5
"""Hours are never reported under or over these; both are far outside what any shop runs."""

ROWS_AT_ONCE = 512
"""Rows computed together: keeps the working arrays in the processor's cache and the memory bounded."""


@dataclass(frozen=True, slots=True)
class RiskCurves:
    """One channel's risk against hours: P(rating >= limit at h) = 1 - F(threshold - slope log h), one draw at a time.

    threshold : array, shape (units, draws); unit's effect, spring, oil and rider are in it
    slope : array, shape (draws,), positive
    link : "logit", "probit" or "cloglog"
    Raises ContractError where shapes disagree, a value is not finite or a slope is not positive.
    """

    threshold: Floats
    slope: Floats
    link: str

    def __post_init__(self) -> None:
        if self.threshold.ndim != 2 or self.slope.shape != self.threshold.shape[1:] or not self.slope.size:
            raise ContractError(
                f"risk curves: threshold has shape {self.threshold.shape} and slope {self.slope.shape}; "
                "expected (units, draws) and (draws,)"
            )
        if not (np.isfinite(self.threshold).all() and np.isfinite(self.slope).all() and (self.slope > 0).all()):
            raise ContractError("risk curves: thresholds must be finite and slopes finite and over zero")

    @property
    def units(self) -> int:
        """Number of rows."""
        return int(self.threshold.shape[0])

    def rows(self, chosen: Indices) -> RiskCurves:
        """The curves of some rows only."""
        return RiskCurves(self.threshold[chosen], self.slope, self.link)
