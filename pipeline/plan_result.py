"""What one run of the main job found: the hand-over from the pipeline to the reports."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from draincurve.pipeline.backtest_result import BacktestResult
from draincurve.pipeline.change_results import ReportChanges
from draincurve.pipeline.forecast_results import ForecastResult
from draincurve.pipeline.held_back_results import HeldBackFile
from draincurve.pipeline.leg_results import LegResult
from draincurve.pipeline.oil_results import OilResult
from draincurve.pipeline.sample_results import NextSample
from draincurve.pipeline.spring_results import SpringComparison
from draincurve.pipeline.trust_results import ChannelTrust
from draincurve.pipeline.volume_results import VolumeResult
from draincurve.pipeline.wear_results import WearResult
from draincurve.schemas.settings import Settings

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class TableAccount:
    """Row accounting of one input table: read = accepted + held back, always."""

    table: str
    source: str
    sha256: str
    read: int
    accepted: int
    held_back: int


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A covariate that does not enter a channel's fit, and why, in words for the report."""

    channel: str
    term: str
    reason: str


@dataclass(frozen=True, slots=True)
class PriorMovement:
    """How far the log moved one parameter from its prior: posterior sd / prior sd, 1 means not at all."""

    parameter: str
    meaning: str
    prior_sd: float
    posterior_sd: float

    @property
    def ratio(self) -> float:
        """Posterior sd over prior sd."""
        return self.posterior_sd / self.prior_sd


@dataclass(frozen=True, slots=True)
class Multiplier:
    """Hours multiplier of one level of a term against the average level: 0.72 lasts 0.72x the hours."""

    term: str
    level: str
    drains: int
    units: int
    multiplier: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class RiskCurve:
    """Chance of a rating at or past the limit against hours, for a typical unit with this spring and oil.

    hours, median, low, high : arrays, shape (m,); hours [h], the others probabilities; low and high are the
    5 % and 95 % posterior points.
    """

    spring_type: str
    oil_grade: str
    hours: Floats
    median: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True, slots=True)
class UnitCurve:
    """Chance of a rating at or past the limit against hours on this fill, for one unit as it stands.

    hours, median, low, high : arrays, shape (m,), as in RiskCurve
    """

    unit_id: str
    site: str | None
    channel: str
    hours: Floats
    median: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True, slots=True)
class StepEstimate:
    """Isotonic (nonparametric maximum-likelihood) estimate of the share of drains past the limit by hours."""

    hours: Floats
    share: Floats
    drains: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class FitDiagnostics:
    """How the posterior was got and whether to trust it."""

    converged: bool
    iterations: int
    log_likelihood: float
    method: str  # "importance resampling" or "gaussian at the mode"
    pareto_shape: float | None
    effective_sample_size: float | None
    rounds: int
    trusted: bool
    message: str


@dataclass(frozen=True, slots=True)
class ChannelResult:
    """One channel's fit as the report shows it; `why_not` is a sentence when there is no fit.

    ratings : columns unit_id, site, drained_on, oil_hours [h], rating_low, rating_high, past_limit
    (1, 0, or null where a range straddles the limit)
    """

    channel: str
    limit: int
    why_not: str | None
    ratings: pl.DataFrame
    fleet_curve: RiskCurve | None = None
    curves: tuple[RiskCurve, ...] = ()
    steps: StepEstimate | None = None
    multipliers: tuple[Multiplier, ...] = ()
    prior_movement: tuple[PriorMovement, ...] = ()
    diagnostics: FitDiagnostics | None = None
    hours_slope: tuple[float, float, float] | None = None  # median, 5 %, 95 %
    unit_spread: tuple[float, float, float] | None = None  # hours ratio of a unit one sd dirtier: median, 5 %, 95 %


@dataclass(frozen=True, slots=True)
class PlanResult:
    """Everything the reports need; tables follow the schemas of their names.

    inspect_now : columns unit_id, site, drained_on, signs (text, e.g. "milky, leak")
    remarks : columns source, line, column, value, kind ("asked" or "note"), message
    unit_reasons : columns unit_id, site, machine, position, why (one plain sentence on what set interval and date),
    cost_interval_h [h], cost_why (why no interval is cheapest, or empty)
    """

    as_of: date
    log_name: str
    settings: Settings
    accounts: tuple[TableAccount, ...]
    held_back: pl.DataFrame
    remarks: pl.DataFrame
    drains: pl.DataFrame
    inspect_now: pl.DataFrame
    channels: tuple[ChannelResult, ...]
    next_service: pl.DataFrame
    fleet_intervals: pl.DataFrame
    unit_reasons: pl.DataFrame
    spring_effects: pl.DataFrame
    left_out: tuple[LeftOut, ...]
    warnings: tuple[str, ...]
    trust: tuple[ChannelTrust, ...] = ()
    springs: tuple[SpringComparison, ...] = ()
    next_samples: tuple[NextSample, ...] = ()
    wear: WearResult | None = None
    unit_curves: tuple[UnitCurve, ...] = ()
    backtest: BacktestResult | str = "Earlier predictions were not tried."
    legs: LegResult | None = None
    volume: VolumeResult | None = None
    forecast: ForecastResult | None = None
    oils: OilResult | None = None
    timings: dict[str, float] = field(default_factory=dict)
    versions: dict[str, str] = field(default_factory=dict)
    notes: dict[str, Any] = field(default_factory=dict)
    changes: ReportChanges | None = None  # against an earlier report, if there is one to hold it against
    held_back_file: HeldBackFile | None = None  # all rows held back, where `held_back` has the first of very many

    @property
    def held_back_count(self) -> int:
        """How many rows were held back."""
        return self.held_back.height if self.held_back_file is None else self.held_back_file.height
