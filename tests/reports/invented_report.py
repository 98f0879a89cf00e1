"""An invented fleet's result in the shape that the pipeline hands over, built without the pipeline."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.decided import Decided
from draincurve.pipeline.deciding.unit_curves import UnitCurve
from draincurve.pipeline.describing.covariates import LeftOut
from draincurve.pipeline.describing.described import Described
from draincurve.pipeline.fitting.fitted import Fitted
from draincurve.pipeline.judging.channel_result import ChannelResult, FitDiagnostics, Multiplier, PriorMovement
from draincurve.pipeline.judging.isotonic_estimate import IsotonicEstimate
from draincurve.pipeline.judging.judged import Judged
from draincurve.pipeline.judging.legs.leg_comparison import LegResult
from draincurve.pipeline.judging.risk_curves import RiskCurve
from draincurve.pipeline.judging.springs.spring_comparison import spring_effects_table
from draincurve.pipeline.judging.volume.unit_balance import VolumeResult
from draincurve.pipeline.plan_result import PlanResult
from draincurve.pipeline.processing import SMALL_FLEET
from draincurve.pipeline.reading.validating.accounting import REMARKS_SCHEMA, TableAccount
from draincurve.pipeline.reading.validating.checked_log import Log
from draincurve.reports.content.report_changes import (
    DueChange,
    IntervalChange,
    ReportChanges,
    ShrunkTable,
    SignsChange,
    StandingChange,
    UnitName,
)
from draincurve.schemas.settings import Costs, Settings

POOR_MESSAGE = "the spread of the answers is rough: ranges may be too narrow"
AS_OF = date(2026, 5, 13)
SPRINGS = ("9.0 N/mm", "9.5 N/mm", "10.0 N/mm")
OILS = ("Grade 5 clear", "Grade 7.5 red")
RIDERS = ("Ada", "Bruno", "Chidi", "Dagny")
EVENTS = (date(2026, 5, 16), date(2026, 5, 23), date(2026, 6, 6), date(2026, 6, 20))
HOSTILE = (
    "<script>alert('F01')</script>",
    '"><img src=x onerror=alert(1)>',
    "ش-٠٧ أمامي",
    "F" * 64,
    "🏁 F05 $x_1$ {{ 7*7 }}",
    "=1+1",
    "</title></style><b>",
    "--><!-- &amp; ]]>",
)


@dataclass(frozen=True)
class FleetShape:
    """What the invented fleet looks like."""

    units: int = 16
    drains: int = 180
    hostile: bool = False
    quiet: bool = False
    sites: int = 1


def build_report(shape: FleetShape) -> PlanResult:
    generator = np.random.default_rng(7)
    names = _names(shape)
    drains, truth = _drains(shape, names, generator)
    service = _next_service(shape, names, truth, drains, generator)
    settings = Settings() if shape.quiet else Settings(costs=Costs(change=60.0, late=400.0))
    hostile_text = HOSTILE[0] if shape.hostile else ""
    channels = (_channel("colour", drains, shape), _channel("debris", drains, shape))
    return PlanResult(
        settings=settings,
        log=replace(
            empty_log(AS_OF, f"{hostile_text}race_team.csv"),
            accounts=(
                TableAccount(
                    "drains", "race_team.csv", "ab" * 32, shape.drains + 5, shape.drains, 0 if shape.quiet else 5
                ),
                TableAccount("bookings", "bookings.csv", "cd" * 32, 40, 40, 0),
            ),
            held_back=_held_back(shape, hostile_text),
            remarks=_remarks(shape, hostile_text),
        ),
        described=described(drains, _left_out(shape, hostile_text)),
        fitted=Fitted({}, {}),
        judged=judged(channels, legs=LegResult(_partners(names))),
        decided=Decided(
            next_service=service,
            unit_reasons=_unit_reasons(service, hostile_text),
            fleet_intervals=_fleet_intervals(),
            inspect_now=_inspect_now(shape, names),
            unit_curves=_unit_curves(service, channels),
            next_samples=(),
            wear=None,
        ),
        forecast=None,
        warnings=()
        if shape.quiet
        else (
            f"Debris: {POOR_MESSAGE}.",
            "Debris: the log cannot tell hours apart (drains at 9 to 11 h).",
            "Every rating in the log is 1: ask whether anyone looks.",
        ),
        versions={"draincurve": "0.1.0", "numpy": "2.4.6", "polars": "2.1.0"},
    )


def build_changes(shape: FleetShape) -> ReportChanges | None:
    """What changed since the report of a week before; nothing is compared in a quiet fleet."""
    return None if shape.quiet else _changes(_names(shape))


def empty_log(as_of: date, name: str) -> Log:
    """A log without tables."""
    nothing = pl.DataFrame()
    remarks = pl.DataFrame(schema=REMARKS_SCHEMA)
    return Log({}, nothing, remarks, remarks, (), (), {}, nothing, as_of, name)


def described(drains: pl.DataFrame, left_out: tuple[LeftOut, ...] = ()) -> Described:
    """What reports read of the description: the drains, and covariates that were left out."""
    nothing = pl.DataFrame()
    return Described(
        processing=SMALL_FLEET,
        drains=drains,
        units=None,
        usage=None,
        bookings=None,
        rides_of_similar_units=None,
        state=nothing,
        combinations=nothing,
        signs=nothing,
        sample=nothing,
        model_drains=nothing,
        rated={},
        rated_by_interpretation=(),
        names_by_interpretation=(),
        questions_by_interpretation=(),
        names_as_one={},
        measured=(),
        unsure_scales=(),
        left_out=left_out,
        reference_rater=None,
        oil_description="",
        pairs=(),
        unpaired=(),
        warnings=(),
    )


def judged(channels: tuple[ChannelResult, ...], legs: LegResult | None = None) -> Judged:
    """Channels and legs; nothing else was judged."""
    return Judged(
        channels=channels,
        trust=(),
        changepoints=None,
        legs=legs or LegResult(),
        volume=VolumeResult((), None, None, None, None, (), 0, "No drain has both volumes."),
        springs=(),
        spring_effects=spring_effects_table(()),
        backtest="the log has 3 rated drains",
        oils=None,
        warnings=(),
    )


def altered(report: PlanResult, **fields: Any) -> PlanResult:
    """The report with other values of its own fields, or of the fields of its steps."""
    for name in (None, "log", "described", "judged", "decided"):
        step = report if name is None else getattr(report, name)
        own = replace(step, **{key: fields.pop(key) for key in tuple(fields) if key in step.__slots__})
        report = own if name is None else replace(report, **{name: own})
    assert not fields
    return report


def without_units(report: PlanResult) -> PlanResult:
    """The report of a fleet without units, drains and channels."""
    return altered(
        report,
        next_service=report.decided.next_service.clear(),
        unit_reasons=report.decided.unit_reasons.clear(),
        inspect_now=report.decided.inspect_now.clear(),
        drains=report.described.drains.clear(),
        channels=(),
        fleet_intervals=report.decided.fleet_intervals.clear(),
        held_back=report.log.held_back.clear(),
    )


def _names(shape: FleetShape) -> list[str]:
    names = [f"F{number:02d}" for number in range(1, shape.units + 1)]
    if shape.hostile:
        names[: len(HOSTILE)] = HOSTILE
    return names


def _drains(shape: FleetShape, names: list[str], generator: np.random.Generator) -> tuple[pl.DataFrame, np.ndarray]:
    truth = np.exp(generator.normal(0.0, 0.28, shape.units))
    truth[2] = 0.55
    unit = np.sort(generator.integers(0, shape.units, shape.drains))
    hours = np.round(generator.uniform(3.0, 24.0, shape.drains), 1)
    visit = np.array([np.sum(unit[:place] == unit[place]) for place in range(shape.drains)])
    colour = np.clip(np.round(1.0 + hours / (9.0 * truth[unit]) + generator.normal(0, 0.6, shape.drains)), 1, 5)
    debris = np.clip(np.round(0.6 + hours / (7.0 * truth[unit]) + generator.normal(0, 0.7, shape.drains)), 1, 5)
    frame = pl.DataFrame(
        {
            "unit_id": [names[place] for place in unit],
            "site": [f"Site {place % shape.sites + 1}" if shape.sites > 1 else None for place in unit],
            "drained_on": [AS_OF - timedelta(days=int(400 - 24 * order)) for order in visit],
            "oil_hours": hours,
            "oil_grade": [OILS[place % 2] for place in unit],
            "spring_type": [SPRINGS[place % 3] for place in unit],
            "rider": [RIDERS[place % 4] for place in unit],
            "rated_by": ["ek" if place % 3 else None for place in range(shape.drains)],
            "settle_hours": [0.167] * shape.drains,
            "colour_low": colour.astype(int),
            "colour_high": np.minimum(5, colour.astype(int) + (np.arange(shape.drains) % 17 == 5)),
            "debris_low": debris.astype(int),
            "debris_high": debris.astype(int),
            "service_kind": ["rebuild" if place % 41 == 7 else "oil" for place in range(shape.drains)],
            "note": [
                (HOSTILE[1] if shape.hostile else "bushes") if place % 29 == 3 else None
                for place in range(shape.drains)
            ],
        },
        schema_overrides={"site": pl.String, "rated_by": pl.String, "note": pl.String},
    )
    frame = frame.with_columns(pl.col("unit_id").alias("unit_key"))
    return frame, truth


def _channel(name: str, drains: pl.DataFrame, shape: FleetShape) -> ChannelResult:
    ratings = drains.select(
        "unit_id",
        "site",
        "drained_on",
        "oil_hours",
        pl.col(f"{name}_low").alias("rating_low"),
        pl.col(f"{name}_high").alias("rating_high"),
    ).with_columns(
        pl.when(pl.col("rating_low") >= 4)
        .then(1)
        .when(pl.col("rating_high") < 4)
        .then(0)
        .otherwise(None)
        .alias("past_limit")
    )
    hours = np.linspace(0.5, 28.0, 60)
    middle = 19.0 if name == "colour" else 16.0
    fleet = _curve("", "", hours, middle)
    levels = [
        (SPRINGS[0], 1.18, 1.02, 1.36),
        (SPRINGS[1], 1.0, 0.88, 1.15),
        (SPRINGS[2], 0.72, 0.55, 0.94),
    ]
    multipliers = [Multiplier("spring", level, 60, 6, *values) for level, *values in levels]
    multipliers += [
        Multiplier("oil", OILS[0], 90, 8, 1.06, 0.93, 1.2),
        Multiplier("oil", OILS[1], 90, 8, 0.94, 0.83, 1.07),
        Multiplier("rider", HOSTILE[0] if shape.hostile else "Ada", 44, 4, 0.88, 0.62, 1.21),
    ]
    poor = name == "debris" and not shape.quiet
    known = ratings.filter(pl.col("past_limit").is_not_null()).sort("oil_hours")
    steps = np.linspace(2.0, 24.0, 9)
    return ChannelResult(
        channel=name,
        limit=4,
        why_not=None,
        ratings=ratings,
        fleet_curve=fleet,
        curves=tuple(
            _curve(spring, oil, hours, middle * (1.18, 1.0, 0.72)[place] * (1.06, 0.94)[second])
            for place, spring in enumerate(SPRINGS)
            for second, oil in enumerate(OILS)
        ),
        steps=IsotonicEstimate(
            steps,
            np.maximum.accumulate(1.0 / (1.0 + (steps / middle) ** -4.2) + 0.02 * np.sin(steps)),
            np.full(9, known.height // 9, dtype=np.int64),
        ),
        multipliers=tuple(multipliers),
        prior_movement=(
            PriorMovement("hours slope", "how fast ratings rise with hours (log)", 0.5, 0.48 if poor else 0.14),
            PriorMovement("sd between units", "how much units differ (log)", 0.6, 0.2),
            PriorMovement("spring", "effect of spring", 1.0, 0.31),
            PriorMovement("rider", "effect of rider", 0.5, 0.47),
        ),
        diagnostics=FitDiagnostics(
            converged=True,
            iterations=24,
            log_likelihood=-201.4,
            method="importance resampling",
            pareto_shape=0.81 if poor else 0.31,
            effective_sample_size=210.0 if poor else 812.0,
            rounds=3,
            trusted=not poor,
            message=POOR_MESSAGE if poor else "",
        ),
        hours_slope=(4.2, 3.1, 5.4),
        unit_spread=(0.74, 0.64, 0.86),
    )


def _curve(spring: str, oil: str, hours: np.ndarray, middle: float) -> RiskCurve:
    def chance(factor: float, slope: float) -> np.ndarray:
        return 1.0 / (1.0 + (hours / (middle * factor)) ** -slope)

    three = np.stack([chance(1.0, 4.2), chance(1.14, 4.6), chance(0.87, 3.9)])
    return RiskCurve(spring, oil, hours, three[0], three.min(axis=0), three.max(axis=0))


def _unit_curves(service: pl.DataFrame, channels: tuple[ChannelResult, ...]) -> tuple[UnitCurve, ...]:
    curves = []
    for unit_id, site, ratio in service.select("unit_id", "site", "hours_ratio").iter_rows():
        for channel in channels:
            curve = _curve("", "", np.linspace(0.5, 28.0, 32), 17.0 * ratio)
            curves.append(UnitCurve(unit_id, site, channel.channel, curve.hours, curve.risk, curve.low, curve.high))
    return tuple(curves)


def _partners(names: list[str]) -> dict[str, str]:
    pairs = zip(names[::2], names[1::2], strict=False)
    return {one: other for pair in pairs for one, other in (pair, pair[::-1])}


def _changes(names: list[str]) -> ReportChanges:
    unit = [UnitName(name, None) for name in names]
    return ReportChanges(
        since=AS_OF - timedelta(days=7),
        as_of=AS_OF,
        shrunk=(ShrunkTable("drains", "race_team.csv", 190, 185),),
        newly_inspect=(SignsChange(unit[1], "milky, leak"),),
        newly_due=(DueChange(unit[4], AS_OF + timedelta(days=3), AS_OF, -1.5),),
        newly_faster=(StandingChange(unit[2], "with the fleet", "faster than the fleet"),),
        intervals=(
            IntervalChange(unit[5], 11.0, 9.5, "debris", "debris"),
            IntervalChange(unit[6], 9.0, 10.0, "debris", "colour"),
        ),
        gone_units=(UnitName("F99", None),),
        settings_changed=("accepted_risk",),
    )


def _next_service(
    shape: FleetShape,
    names: list[str],
    truth: np.ndarray,
    drains: pl.DataFrame,
    generator: np.random.Generator,
) -> pl.DataFrame:
    count = drains.group_by("unit_id").len()
    seen = dict(zip(count["unit_id"], count["len"], strict=True))
    rows = []
    for place, name in enumerate(names):
        interval = float(np.floor(26.0 * truth[place] * 0.56) / 2 * 1.0) + 3.0
        on_oil = None if place == 11 else round(float(generator.uniform(0.05, 0.9) * interval), 1)
        if place == 4:
            on_oil = interval + 1.5
        left = None if on_oil is None else interval - on_oil
        due = None if left is None or place % 7 == 6 else AS_OF + timedelta(days=max(0, int(left * 3.5)))
        after = [event for event in EVENTS if due is not None and due <= event <= due + timedelta(days=6)]
        due = after[0] if after else due
        ratio = float(truth[place])
        standing = "with the fleet"
        if ratio < 0.62:
            standing = "faster than the fleet"
        elif ratio > 1.5:
            standing = "slower than the fleet"
        elif seen.get(name, 0) < 3 or place == 13:
            standing = "too few drains"
        rows.append(
            {
                "unit_id": name,
                "site": f"Site {place % shape.sites + 1}" if shape.sites > 1 else None,
                "spring_type": SPRINGS[place % 3],
                "oil_grade": OILS[place % 2],
                "rider": RIDERS[place % 4],
                "drains": seen.get(name, 0),
                "last_drained_on": AS_OF - timedelta(days=20 + place),
                "hours_on_oil": on_oil,
                "hours_on_oil_basis": "estimated" if place % 6 == 5 else "logged",
                "interval_h": interval,
                "interval_low_h": round(interval * 0.8, 3),
                "interval_high_h": round(interval * (4.0 if place == 13 else 1.4), 3),
                "set_by": ("debris", "colour", "debris", "data_range", "debris", "oil_age", "maker_limit")[place % 7],
                "hours_left": left,
                "due_on": due,
                "due_on_early": due if after else due and max(AS_OF, due - timedelta(days=3)),
                "due_on_late": due if after else due and due + timedelta(days=8),
                "due_before": after[0] if after else None,
                "risk_now": None if on_oil is None else min(0.6, 0.1 * (on_oil / interval) ** 3),
                "hours_ratio": round(ratio, 3),
                "hours_ratio_low": round(ratio * 0.8, 3),
                "hours_ratio_high": round(ratio * 1.28, 3),
                "p_faster": 0.97 if standing.startswith("faster") else 0.2,
                "standing": standing,
                "turned": place == 8 and not shape.quiet,
            }
        )
    return pl.DataFrame(rows, schema_overrides={"site": pl.String, "due_before": pl.Date}, infer_schema_length=None)


def _held_back(shape: FleetShape, hostile_text: str) -> pl.DataFrame:
    columns = ("source", "line", "unit_id", "day", "column", "value", "reason")
    rows = [
        (
            "race_team.csv",
            14,
            "F07",
            "2026-03-04",
            "drained_on",
            "3/4/26",
            "Day or month first? Say date_order in the settings.",
        ),
        (
            "race_team.csv",
            31,
            "F07",
            "2026-03-04",
            "oil_hours",
            "0",
            "Hours must be above 0. Read them off the meter again.",
        ),
        ("race_team.csv", 31, "F07", "2026-03-04", "colour_rating", "6", "Ratings run from 1 to 5."),
        (
            "race_team.csv",
            58,
            "F07",
            "2026-03-04",
            "colour_rating",
            f"grey{hostile_text}",
            "Not on the scale 1 to 5.",
        ),
        ("race_team.csv", 102, None, "2026-03-04", "unit_id", "", "The unit is missing."),
        ("race_team.csv", 140, "F07", "2026-03-04", "oil_hours", "-12", "Hours must be above 0."),
    ]
    return pl.DataFrame(
        [] if shape.quiet else rows,
        schema={name: pl.Int64 if name == "line" else pl.String for name in columns},
        orient="row",
    )


def _remarks(shape: FleetShape, hostile_text: str) -> pl.DataFrame:
    columns = ("source", "line", "unit_id", "day", "column", "value", "kind", "message", "proposal", "setting")
    rows = [
        (
            "race_team.csv",
            22,
            "F07",
            "2026-04-11",
            "oil_hours",
            "61.0",
            "asked",
            "Over 2.5 times the unit's usual. A service not logged?",
            None,
            None,
        ),
        (
            "race_team.csv",
            40,
            "F-7",
            "2026-04-12",
            "unit_id",
            f"F-7{hostile_text}",
            "asked",
            "Close to F07. Is it the same unit?",
            "F07",
            None,
        ),
        ("race_team.csv", 9, "F03", "2026-02-01", "unit_id", "f-03", "note", "Read as F03.", None, None),
        (
            "race_team.csv",
            None,
            None,
            None,
            "settle_hours",
            "",
            "note",
            "Absent in 41 rows: taken as ten minutes.",
            None,
            None,
        ),
    ]
    return pl.DataFrame(
        [] if shape.quiet else rows,
        schema={name: pl.Int64 if name == "line" else pl.String for name in columns},
        orient="row",
    )


def _inspect_now(shape: FleetShape, names: list[str]) -> pl.DataFrame:
    rows = [
        (names[1], None, AS_OF - timedelta(days=21), "milky, leak"),
        (names[-1] if len(names) < 10 else names[9], None, AS_OF - timedelta(days=29), "burnt"),
    ]
    return pl.DataFrame(
        [] if shape.quiet else rows,
        schema={"unit_id": pl.String, "site": pl.String, "drained_on": pl.Date, "signs": pl.String},
        orient="row",
    )


def _unit_reasons(service: pl.DataFrame, hostile_text: str) -> pl.DataFrame:
    return service.select(
        "unit_id",
        "site",
        (pl.lit("machine ") + (pl.int_range(pl.len()) // 2 + 1).cast(pl.String)).alias("machine"),
        pl.when(pl.int_range(pl.len()) % 2 == 0).then(pl.lit("left")).otherwise(pl.lit("right")).alias("position"),
        pl.lit(
            f"{hostile_text}Debris reaches the accepted risk of 10 % first; "
            "the bookings use up the hours that are left."
        ).alias("why"),
        (pl.col("interval_h") * 0.9).round(1).alias("cost_interval_h"),
        pl.lit("").alias("cost_why"),
        pl.lit("").alias("close_channels"),
        pl.lit(None, dtype=pl.Float64).alias("past_plausible_h"),
    )


def _left_out(shape: FleetShape, hostile_text: str) -> tuple[LeftOut, ...]:
    if shape.quiet:
        return ()
    return (
        LeftOut("colour", "rider", "every rider rode one spring only, so rider and spring look alike"),
        LeftOut("debris", f"surface{hostile_text}", "the log has no such column"),
    )


def _fleet_intervals() -> pl.DataFrame:
    rows = [
        {
            "spring_type": spring,
            "oil_grade": oil,
            "interval_h": 11.5 + place - second,
            "interval_low_h": 9.8 + place - second,
            "interval_high_h": 14.2 + place,
            "set_by": "debris",
            "drains": 30,
            "units": 6,
        }
        for place, spring in enumerate(SPRINGS)
        for second, oil in enumerate(OILS)
    ]
    return pl.DataFrame(rows)
