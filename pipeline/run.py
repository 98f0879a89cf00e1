"""The whole line for one log: read, clean, validate, describe, fit, judge, decide."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from importlib.metadata import version
from pathlib import Path

import numpy as np
import polars as pl

from pipeline.deciding.fleet_intervals import fleet_interval_table
from pipeline.deciding.hours_curves import HoursCurves
from pipeline.deciding.next_service import next_service_table
from pipeline.describing.fill_conditions import state_conditions
from pipeline.describing.fleet_state import fleet_state, standing_signs
from pipeline.describing.held_back_parts import signs_seen, with_lost_hours, with_lost_limits
from pipeline.describing.rated_drains import CHANNELS, describe
from pipeline.fitting.channel_fit import ChannelFit, fit_channel
from pipeline.fitting.prediction import cut_draws
from pipeline.judging.evidence import channel_result, unfitted_result
from pipeline.judging.standing import channel_standings, fleet_standings, no_standings
from pipeline.judging.warnings import fit_warnings
from pipeline.plan_result import ChannelResult, PlanResult
from pipeline.sources import SourceTable, read_log, read_table
from pipeline.validation import CheckedLog, check_log
from schemas.settings import Settings, read_settings

SIDE_TABLES = ("units", "usage", "bookings", "oils", "measurements")
LIBRARIES = ("draincurve", "numpy", "scipy", "numba", "polars", "pandera", "pint", "scikit-learn", "matplotlib")


@dataclass(frozen=True, slots=True)
class PlanInputs:
    """Files of one run: the log, the side tables by name, the settings file, and the day the answers are for."""

    log: Path
    as_of: date
    sides: Mapping[str, Path] = field(default_factory=dict)
    settings: Path | None = None


@dataclass
class Stopwatch:
    """Seconds of each stage; tells `progress` when a stage begins."""

    progress: Callable[[str], None]
    seconds: dict[str, float] = field(default_factory=dict)

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Time one stage."""
        self.progress(name)
        begin = time.perf_counter()
        yield
        self.seconds[name] = self.seconds.get(name, 0.0) + time.perf_counter() - begin


def silent(_: str) -> None:
    """Progress that nobody watches."""


def read_inputs(inputs: PlanInputs) -> dict[str, SourceTable]:
    """Every table of a run: those in the log's own workbook, and those given as files, which stand over them.

    Raises SourceError for a file that cannot be read.
    """
    tables = read_log(inputs.log)
    return tables | {name: read_table(path, name) for name, path in inputs.sides.items()}


def check(inputs: PlanInputs) -> CheckedLog:
    """Read and validate only. Raises SourceError and SettingsError."""
    return check_log(read_inputs(inputs), read_settings(inputs.settings), inputs.as_of)


def plan(inputs: PlanInputs, progress: Callable[[str], None] = silent) -> PlanResult:
    """The main job: from a log to each unit's next-service point.

    Raises SourceError and SettingsError for input that cannot be used as a whole; a bad row never stops a run.
    """
    settings = read_settings(inputs.settings)
    watch = Stopwatch(progress)
    streams = iter(np.random.default_rng(settings.seed).spawn(2 * len(CHANNELS) + 3))
    with watch.stage("reading"):
        tables = read_inputs(inputs)
    with watch.stage("checking"):
        checked = check_log(tables, settings, inputs.as_of)
    drains = checked.accepted["drains"]
    units = with_lost_limits(checked.accepted.get("units"), checked.legible.get("units"))
    usage = with_lost_hours(checked.accepted.get("usage"), checked.legible.get("usage"))
    bookings = with_lost_hours(checked.accepted.get("bookings"), checked.legible.get("bookings"))
    shown = signs_seen(checked.legible.get("drains"), drains)
    with watch.stage("describing"):
        rated = [describe(drains, channel) for channel in CHANNELS]
        usual_hours = _usual_hours(drains)
        state = _conditions(fleet_state(drains, units, inputs.as_of, shown), settings, usual_hours)
        combinations = _conditions(_combinations(drains, state), settings, usual_hours)
    fits: dict[str, ChannelFit] = {}
    channels: list[ChannelResult] = []
    for channel in rated:
        with watch.stage(f"fitting {channel.channel}"):
            fit = fit_channel(channel, settings, next(streams))
        with watch.stage("judging"):
            if isinstance(fit, str):
                channels.append(unfitted_result(channel, settings, fit))
            else:
                fits[channel.channel] = fit
                channels.append(channel_result(fit, combinations, settings, next(streams)))
    with watch.stage("judging"):
        standings = _standings(fits, state, settings, next(streams)).with_columns(
            pl.lit(None, dtype=pl.Boolean).alias("turned")
        )
    with watch.stage("deciding"):
        next_service, reasons = next_service_table(
            state,
            _curves(fits, state, settings, next(streams)),
            standings,
            drains,
            usage,
            bookings,
            settings,
            inputs.as_of,
        )
        intervals = fleet_interval_table(
            combinations, _curves(fits, combinations, settings, next(streams)), drains, settings, state
        )
    return PlanResult(
        as_of=inputs.as_of,
        log_name=str(Path(inputs.log.resolve().parent.name) / inputs.log.name),
        settings=settings,
        accounts=checked.accounts,
        held_back=checked.held_back,
        remarks=checked.remarks,
        drains=drains,
        inspect_now=_inspect_now(pl.concat([drains, shown]), units),
        channels=tuple(channels),
        next_service=next_service,
        fleet_intervals=intervals,
        unit_reasons=reasons,
        left_out=tuple(item for channel in rated for item in channel.left_out),
        warnings=fit_warnings(channels, drains),
        timings=watch.seconds,
        versions={"python": sys.version.split()[0]} | {name: version(name) for name in LIBRARIES},
    )


def _usual_hours(drains: pl.DataFrame) -> float:
    """The fleet's median fill [h]; ten where no fill is known, which matters to nothing then."""
    median = drains["oil_hours"].median()
    return float(median) if isinstance(median, (int, float)) else 10.0


def _conditions(state: pl.DataFrame, settings: Settings, usual_hours: float) -> pl.DataFrame:
    return state_conditions(state, settings.standard_settle_hours, usual_hours)


def _combinations(drains: pl.DataFrame, state: pl.DataFrame) -> pl.DataFrame:
    """Springs and oils in use, with the drains and units behind each: for a unit without history.

    Such a unit starts on a new spring, with a clean chamber; its rider and site are not known yet.
    """
    in_use = pl.concat(
        [
            drains.filter(pl.col("service_kind") != "top-up").select("spring_type", "oil_grade"),
            state.select("spring_type", "oil_grade").drop_nulls(),
        ]
    ).unique()
    counts = (
        drains.filter(pl.col("service_kind") != "top-up")
        .group_by("spring_type", "oil_grade")
        .agg(pl.len().cast(pl.Int64).alias("drains"), pl.col("unit_key").n_unique().cast(pl.Int64).alias("units"))
    )
    return (
        in_use.join(counts, on=["spring_type", "oil_grade"], how="left")
        .with_columns(
            pl.col("drains", "units").fill_null(0),
            pl.concat_str(pl.lit("new unit on "), "spring_type", pl.lit(" / "), "oil_grade").alias("unit_key"),
            pl.lit(0.0).alias("spring_hours_now"),
            pl.lit(0.0).alias("last_shortfall"),
        )
        .sort("spring_type", "oil_grade")
    )


def _standings(
    fits: Mapping[str, ChannelFit], state: pl.DataFrame, settings: Settings, rng: np.random.Generator
) -> pl.DataFrame:
    keys = state["unit_key"].to_list()
    if not fits or not keys:
        return no_standings(keys)
    return fleet_standings(
        [channel_standings(fit, keys, settings.standing, rng) for fit in fits.values()], settings.standing
    )


def _curves(
    fits: Mapping[str, ChannelFit], rows: pl.DataFrame, settings: Settings, rng: np.random.Generator
) -> dict[str, HoursCurves]:
    """Risk curves of every channel, rows as in the frame."""
    return {
        channel: HoursCurves(
            cut_draws(fit, rows, settings.limit_rating(channel), settings.priors, rng), fit.hours_slope, settings.link
        )
        for channel, fit in fits.items()
        if rows.height
    }


def _inspect_now(drains: pl.DataFrame, units: pl.DataFrame | None) -> pl.DataFrame:
    """Units with a sign that stands, with the day of their last drain; those out of service are left out."""
    last = (
        drains.sort("drained_on", maintain_order=True)
        .group_by("unit_key")
        .agg(pl.col("unit_id", "site", "drained_on").last())
    )
    found = standing_signs(drains).join(last, on="unit_key", how="left")
    if units is not None:
        found = found.join(units.filter(~pl.col("in_service")), on="unit_key", how="anti")
    return found.sort("unit_key").select("unit_id", "site", "drained_on", "signs")
