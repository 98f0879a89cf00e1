"""What a backtest found: the hand-over from the pipeline to the reports. Scores: lower is better, 0 to 1."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import polars as pl


@dataclass(frozen=True, slots=True)
class RivalScore:
    """Another way of predicting, on the same drains.

    name : words for it; score : its mean ranked probability score; difference : the model's mean score less this
    one's, under 0 where the model is closer; low, high : 95 % interval of the difference by resampling whole units,
    None with too few units to tell.
    """

    name: str
    score: float
    difference: float
    low: float | None
    high: float | None

    @property
    def beaten(self) -> bool:
        """Whether the model is closer by more than chance."""
        return self.high is not None and self.high < 0.0

    @property
    def wins(self) -> bool:
        """Whether it is closer than the model by more than chance."""
        return self.low is not None and self.low > 0.0


@dataclass(frozen=True, slots=True)
class CalibrationBin:
    """Drains of like predicted risk: what was said, and what came.

    lowest, highest, predicted : of the predicted risk, the last its mean; past of drains were at or past the limit;
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
        """Whether more were past the limit than the predictions allow for."""
        return self.low > self.expected / self.drains


@dataclass(frozen=True, slots=True)
class IntervalCoverage:
    """How central intervals of the hours to the limit held; see draincurve.pipeline.judging.backtest.coverage.

    nominal : their probability; covered : share of ratings inside the interval, with its 95 % interval (Wilson);
    outside : drains made before the interval began or after it ended, where a miss can be seen; misses : those that
    contradict it, of which `expected` would if it were right, in 95 % of cases from `fewest` to `most`.
    """

    nominal: float
    covered: float
    low: float
    high: float
    outside: int
    misses: int
    expected: float
    fewest: int
    most: int


@dataclass(frozen=True, slots=True)
class ChannelBacktest:
    """One channel: the drains that followed each origin, predicted from what was known before it.

    origins : dates as of which the model was fitted anew; limit : rating at which oil is past fit; accepted_risk :
    the shop's; within_risk : the drains predicted at or under it, None where there were none; whole : all drains;
    brier, spiegelhalter_z : of the predicted risk, z about standard normal where the risks are right.
    """

    channel: str
    limit: int
    accepted_risk: float
    origins: tuple[date, ...]
    drains: int
    units: int
    score: float
    fleet: RivalScore
    fleet_by_hours: RivalScore
    boosted: RivalScore | None
    bins: tuple[CalibrationBin, ...]
    whole: RiskCheck | None
    within_risk: RiskCheck | None
    coverage: tuple[IntervalCoverage, ...]
    brier: float | None
    spiegelhalter_z: float | None
    verdict: str

    @property
    def model_loses(self) -> bool:
        """Whether the model was no closer than the fleet's own distribution of ratings."""
        return self.fleet.difference >= 0.0

    @property
    def understated(self) -> bool:
        """Whether more drains were past the limit than predicted, by more than chance."""
        return any(check is not None and check.understated for check in (self.whole, self.within_risk))


@dataclass(frozen=True, slots=True)
class BacktestResult:
    """All channels that could be tried, and why others could not.

    without : channel and sentence; note : what to know of the way it was done, or None; rows : one row for each
    predicted drain and channel, columns as in draincurve.schemas.backtest.
    """

    channels: tuple[ChannelBacktest, ...]
    without: tuple[tuple[str, str], ...]
    note: str | None
    rows: pl.DataFrame
