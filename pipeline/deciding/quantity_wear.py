"""One measured quantity judged for every unit in service."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.wear_hours import hours_at, readings_between
from draincurve.pipeline.deciding.wear_result import FleetLine, QuantityWear, UnitWear
from draincurve.pipeline.deciding.wear_sentences import unit_sentence
from draincurve.pipeline.describing import WearSeries
from draincurve.pipeline.fitting.degradation import FittedWear
from draincurve.pipeline.judging import FleetLimit, fleet_limit
from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.quantities import VISCOSITY_LOOKS
from draincurve.schemas.settings import Settings

LINE_PROBABILITIES = (0.05, 0.5, 0.95)
MOST_LINES = 24
LINE_POINTS = 41


@dataclass(frozen=True, slots=True)
class _Points:
    """Hours of each unit, (n,): the wear point and the three points of its line; infinite beyond the range."""

    wear: Floats
    line: Floats


def quantity_wear(
    series: WearSeries,
    fits: Sequence[FittedWear | str],
    state: pl.DataFrame,
    clocks: pl.DataFrame,
    settings: Settings,
) -> QuantityWear:
    """Everything about one quantity.

    fits : the fit to show, and perhaps one without readings in doubt; each wear point is the earliest of all
    state : units in service;  clocks : unit_key, clock_now, at_least, in the order of `state`
    """
    units = _with_readings(series, state).hstack(clocks.drop("unit_key"))
    farthest = _farthest(series, settings)
    fitted = next((fit for fit in fits if not isinstance(fit, str)), fits[0])
    of_part = series.quantity.clock == "part"
    columns, counts = _columns(units, fitted, of_part)
    points = _points(series, fitted, units, columns, farthest, settings)
    for other in fits:
        if other is not fitted:
            wear = _points(series, other, units, _columns(units, other, of_part)[0], farthest, settings).wear
            points = replace(points, wear=np.minimum(points.wear, wear))
    judged = tuple(
        _unit(series, row, int(counts[index]), points, index, farthest)
        for index, row in enumerate(units.iter_rows(named=True))
    )
    return QuantityWear(
        name=series.quantity.name,
        title=series.quantity.title,
        meaning=series.quantity.meaning,
        unit=series.unit,
        clock=series.quantity.clock,
        worse=series.quantity.worse,
        limit=series.limit,
        readings=series.readings,
        why_not=fitted if isinstance(fitted, str) else None,
        left_out=_left_out(series),
        fit=None if isinstance(fitted, str) else fitted.fit,
        fleet_line=None if isinstance(fitted, str) else _fleet_line(fitted, farthest),
        unit_lines={} if isinstance(fitted, str) else _unit_lines(fitted, judged, columns, farthest),
        units=judged,
        looks=VISCOSITY_LOOKS if series.quantity.worse == "either" and series.unit.startswith("%") else None,
        fleet_limit=_fleet_limit(series),
        farthest_h=farthest,
    )


def _with_readings(series: WearSeries, state: pl.DataFrame) -> pl.DataFrame:
    """Units in service with the latest reading of their present part or oil, in the order of `state`."""
    latest = (
        series.readings.filter("now")
        .sort("measured_on", maintain_order=True)
        .group_by("unit_key")
        .agg(
            pl.col("value").last().alias("last_value"),
            pl.col("measured_on").last().alias("last_on"),
            pl.col("bound").last().alias("last_bound"),
            pl.col("clock_h").drop_nulls().last().alias("last_clock"),
            pl.col("part").last(),
        )
    )
    return state.select("unit_key", "unit_id", "site").join(latest, on="unit_key", how="left", maintain_order="left")


def _farthest(series: WearSeries, settings: Settings) -> float | None:
    """Hours beyond which nothing was measured, with the step further that the shop allows."""
    largest = series.readings["clock_h"].max()
    return settings.data_range_factor * largest if isinstance(largest, float) and largest > 0 else None


def _columns(units: pl.DataFrame, fitted: FittedWear | str, of_part: bool) -> tuple[Integers, Integers]:
    """Column of each unit among the lines, that of a new unit where it has none, and its fitted readings."""
    if isinstance(fitted, str):
        return np.zeros(units.height, dtype=np.int64), np.zeros(units.height, dtype=np.int64)
    # Oil is one part, also of a unit without readings, whose line may come from its ratings.
    part = pl.col("part") if of_part else pl.col("part").fill_null(0)
    joined = units.select("unit_key", part).join(
        fitted.groups, on=["unit_key", "part"], how="left", maintain_order="left"
    )
    return (
        joined["column"].cast(pl.Int64).fill_null(fitted.lines.new_unit).to_numpy(),
        joined["readings"].cast(pl.Int64).fill_null(0).to_numpy(),
    )


def _points(
    series: WearSeries,
    fitted: FittedWear | str,
    units: pl.DataFrame,
    columns: Integers,
    farthest: float | None,
    settings: Settings,
) -> _Points:
    rows = units.height
    if isinstance(fitted, str) or series.limit is None or farthest is None or not rows:
        return _Points(np.full(rows, np.inf), np.full((rows, len(LINE_PROBABILITIES)), np.inf))
    begin = np.zeros(rows)
    if series.quantity.clock == "part":
        begin = units.select(pl.coalesce("last_clock", "clock_now").fill_null(0.0)).to_series().to_numpy()
    by_reading = hours_at(
        fitted.lines, columns, series.limit, fitted.log_scale, begin, farthest, (settings.accepted_risk,), True
    )
    by_line = hours_at(
        fitted.lines, columns, series.limit, fitted.log_scale, begin, farthest, LINE_PROBABILITIES, False
    )
    return _Points(by_reading[:, 0], by_line)


def _unit(
    series: WearSeries, row: dict[str, Any], readings: int, points: _Points, index: int, farthest: float | None
) -> UnitWear:
    """One unit: its wear point and what is left until then."""
    limit, value = series.limit, row["last_value"]
    past = limit is not None and value is not None and row["last_bound"] != "under" and limit.passed_by(value)
    of_part = series.quantity.clock == "part"
    clock = row["clock_now"] if of_part else 0.0
    wear, beyond = None, False
    if limit is not None and farthest is not None:
        beyond = bool(points.wear[index] > farthest)
        wear = min(float(points.wear[index]), farthest)
    allowed = None if wear is None else max(wear - clock, 0.0)
    if past and of_part:
        allowed = 0.0
    low, middle, high = (float(hours) if np.isfinite(hours) else None for hours in points.line[index])
    unit = UnitWear(
        row["unit_key"], row["unit_id"], row["site"], readings, value, row["last_on"], past, clock, wear, beyond,
        low, middle, high, allowed, "", "", row["last_bound"],
    )  # fmt: skip
    at_least = bool(row["at_least"]) and of_part
    return replace(
        unit,
        why=unit_sentence(unit, series, at_least=at_least, are_run=unit.over_h is not None),
        why_run=unit_sentence(unit, series, at_least=at_least, are_run=True),
    )


def _left_out(series: WearSeries) -> tuple[str, ...]:
    unclocked = series.readings["clock_h"].null_count()
    sentences = []
    if unclocked:
        what = (
            "hours on the oil are not known: no drain of that day, and none typed"
            if series.quantity.clock == "oil"
            else "hours on the part are not known: none typed, and no rebuild in the log to count from"
        )
        sentences.append(
            f"{unclocked} of {series.readings.height} readings are shown but not fitted, since their {what}."
        )
    bounds = series.readings["bound"].drop_nulls().len()
    if bounds:
        sentences.append(f"{bounds} readings are only known to be under or over a bound, and count as that.")
    doubtful = int(series.readings["in_doubt"].sum())
    if doubtful:
        sentences.append(
            f"{doubtful} readings may be of another drain: the earlier date holds, with or without them."
        )
    if _limit_unseen(series):
        sentences.append("Some bounds are past the limit: such a reading does not say whether the limit is kept.")
    if series.without_new:
        sentences.append(
            f"{series.without_new} readings are left out here, since what was new is not known: the oil is not in "
            "the table of oils, and the unit has no reading at no hours."
        )
    return tuple(sentences)


def _limit_unseen(series: WearSeries) -> bool:
    """Whether some readings are only known to be under a bound that is itself past the limit."""
    under = series.readings.filter(pl.col("bound") == "under")["value"]
    return series.limit is not None and any(series.limit.passed_by(value) for value in under)


def _fleet_line(fitted: FittedWear, farthest: float | None) -> FleetLine | None:
    if farthest is None:
        return None
    hours = np.linspace(0.0, farthest, LINE_POINTS)
    return FleetLine(hours, *readings_between(fitted.lines, fitted.lines.new_unit, hours, fitted.log_scale))


def _unit_lines(
    fitted: FittedWear, judged: tuple[UnitWear, ...], columns: Integers, farthest: float | None
) -> dict[str, tuple[Floats, Floats]]:
    """Middle lines of measured units, those nearest to their wear point first."""
    if farthest is None:
        return {}
    measured = [index for index, unit in enumerate(judged) if unit.readings]
    nearest = sorted(
        measured, key=lambda index: (judged[index].allowed_h is None, judged[index].allowed_h or 0.0, index)
    )
    hours = np.linspace(0.0, farthest, LINE_POINTS)
    return {
        judged[index].unit_key: (
            hours,
            readings_between(fitted.lines, int(columns[index]), hours, fitted.log_scale)[0],
        )
        for index in nearest[:MOST_LINES]
    }


def _fleet_limit(series: WearSeries) -> FleetLimit | str:
    """From the fleet's readings only where nobody else gives a limit."""
    if series.limit is not None:
        return ""
    latest = (
        series.readings.sort("measured_on", maintain_order=True)
        .group_by("unit_key", "part", maintain_order=True)
        .agg(pl.col("value", "bound").last())
    )
    bounded = latest["bound"].is_not_null().any()
    return fleet_limit(latest["value"].to_numpy(), series.quantity.worse, log_scale=series.log_scale, bounded=bounded)
