"""Results of a backtest, channel by channel. Scores run from 0 to 1; lower is better."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import polars as pl

from draincurve.pipeline.judging.backtest.interval_coverage import IntervalCoverage
from draincurve.pipeline.judging.backtest.risk_calibration import CalibrationBin, RiskCheck
from draincurve.pipeline.judging.backtest.score_comparison import RivalScore


@dataclass(frozen=True, slots=True)
class ChannelBacktest:
    """One channel: the drains that followed each origin, predicted from the drains before it.

    origins : dates as of which the model was refitted; limit : rating at which oil is past fit; accepted_risk : the
    shop's; within_risk : check of the drains predicted at or under it, None without any; whole : of all drains;
    brier, spiegelhalter_z : of the predicted risk, z approximately standard normal where the risks are right.
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
        """Whether significantly more drains were past the limit than predicted."""
        return any(check is not None and check.understated for check in (self.whole, self.within_risk))


@dataclass(frozen=True, slots=True)
class BacktestResult:
    """The channels that could be tested, and why others could not.

    without : channel and sentence; note : a remark on how the backtest was run, or None; rows : one row for each
    predicted drain and channel, columns as in draincurve.schemas.backtest_table.
    """

    channels: tuple[ChannelBacktest, ...]
    without: tuple[tuple[str, str], ...]
    note: str | None
    rows: pl.DataFrame
