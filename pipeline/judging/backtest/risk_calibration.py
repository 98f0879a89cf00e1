"""Predicted risk against outcomes: bins of similar risk, and counts against their expectation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from draincurve.pipeline.judging.backtest.binomial_intervals import exact_interval, wilson_interval
from draincurve.schemas.array_types import Floats

DRAINS_A_BIN = 20
MOST_BINS = 8


@dataclass(frozen=True, slots=True)
class CalibrationBin:
    """Drains of similar predicted risk, and their outcomes.

    lowest, highest, predicted : minimum, maximum and mean of the predicted risk; past : drains at or past the limit;
    low, high : 95 % interval (Wilson) of the share past the limit.
    """

    lowest: float
    highest: float
    predicted: float
    drains: int
    past: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """Share of the drains that were past the limit."""
        return self.past / self.drains


@dataclass(frozen=True, slots=True)
class RiskCheck:
    """Drains past the limit against what was expected, with the 95 % interval (Clopper-Pearson) of their share."""

    drains: int
    past: int
    expected: float
    low: float
    high: float

    @property
    def understated(self) -> bool:
        """Whether significantly more drains were past the limit than predicted."""
        return self.low > self.expected / self.drains


def calibration_bins(risk: Floats, past: Floats) -> tuple[CalibrationBin, ...]:
    """Bins of equally many drains by predicted risk, lowest first; none without drains.

    risk : (n,) predicted probability of a rating at or past the limit; past : (n,) 1 where it was, 0 where not. The
    intervals take the drains of a bin as independent; drains of one unit are so only given its prediction.
    """
    if risk.size == 0:
        return ()
    number = int(np.clip(risk.size // DRAINS_A_BIN, 1, MOST_BINS))
    bins = []
    for part in np.array_split(np.argsort(risk, kind="stable"), number):
        count = int(past[part].sum())
        low, high = wilson_interval(count, part.size)
        inside = risk[part]
        bins.append(
            CalibrationBin(
                float(inside.min()), float(inside.max()), float(inside.mean()), int(part.size), count, low, high
            )
        )
    return tuple(bins)


def risk_check(risk: Floats, past: Floats) -> RiskCheck | None:
    """Drains past the limit against the sum of their predicted risks; None without drains."""
    if risk.size == 0:
        return None
    count = int(past.sum())
    return RiskCheck(int(risk.size), count, float(risk.sum()), *exact_interval(count, int(risk.size)))
