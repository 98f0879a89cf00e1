"""What one run of the main job found: the hand-over from the pipeline to the reports."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

import polars as pl

from draincurve.pipeline.change_results import ReportChanges
from draincurve.pipeline.deciding.forecast import ForecastResult
from draincurve.pipeline.deciding.next_samples import NextSample
from draincurve.pipeline.deciding.unit_curves import UnitCurve
from draincurve.pipeline.deciding.wear_result import WearResult
from draincurve.pipeline.describing.oil_catalogue import OilResult
from draincurve.pipeline.describing.rated_drains import LeftOut
from draincurve.pipeline.judging.backtest.channel_backtest import BacktestResult
from draincurve.pipeline.judging.channel_trust import ChannelTrust
from draincurve.pipeline.judging.evidence import ChannelResult
from draincurve.pipeline.judging.legs.comparison import LegResult
from draincurve.pipeline.judging.springs.comparison import SpringComparison
from draincurve.pipeline.judging.volume.unit_balance import VolumeResult
from draincurve.pipeline.processing import FleetProcessing
from draincurve.pipeline.reading.validating.accounting import TableAccount
from draincurve.pipeline.reading.validating.held_back_file import HeldBackFile
from draincurve.schemas.settings import Settings


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
    processing: FleetProcessing
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
