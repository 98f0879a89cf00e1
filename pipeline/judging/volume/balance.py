"""The balance of each unit: loses oil, was not fully drained, or cannot be told; with evidence and range.

A leak takes more the longer oil runs, so it is the slope of what is missing over hours (t test, Holm over units). A
constant shortfall asks about the drain. With five units or more each unit's scatter is weighed with the fleet's, and
where the fleet shows carry-over (see carry_over_model) the lines allow for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.special import ndtri, stdtr, stdtrit

from pipeline.describing.drain_methods import most_left_behind
from pipeline.judging.holm import holm
from pipeline.judging.volume.carry_over_model import Series, carry_over_ratio, unit_lines
from pipeline.judging.volume.missing_oil import missing_oil
from pipeline.judging.volume.steps import Step, steps
from pipeline.judging.volume.volume_words import fleet_sentences, unit_reason
from pipeline.volume_results import (
    BALANCED,
    CANNOT_TELL,
    FALSE_ALARM,
    LOSES,
    NOISE_SHARE,
    OVER,
    READING_SD,
    SHORT,
    STEP,
    USUAL,
    UnitBalance,
    VolumeResult,
)

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

FEWEST_DRAINS = 4
LEAST_HOURS_CV = 0.15
"""Hours that vary less (standard deviation over mean) cannot tell a leak from a constant shortfall."""

POOLED_FROM = 5
FLEET_FREEDOM = 4.0
"""From so many units on, a unit's scatter is weighed with the fleet's median, which counts as so many drains."""

CARRY_OVER_DRAINS = 5
ORDER = (LOSES, STEP, SHORT, OVER, CANNOT_TELL, USUAL, BALANCED)

FEWEST_UNITS = 3
"""Under so many units there is no usual unit."""


@dataclass(frozen=True)
class _Lines:
    """Leaks in ml/h, (U,) each; nan where nothing can be told.

    reach : half the 90 % range; adjusted : Holm; scatter : variance of shares about the line, weighed with the
    fleet's, and freedom : of it.
    """

    per_hour: Floats
    error: Floats
    reach: Floats
    adjusted: Floats
    scatter: Floats
    freedom: Floats


def volume_balance(drains: pl.DataFrame) -> VolumeResult:
    """The balance of every unit with both volumes, and of the fleet.

    drains : accepted rows.
    """
    table, incomplete = missing_oil(drains)
    if not table.height:
        return VolumeResult((), None, None, None, None, (), incomplete, "no drain has both volumes and its hours")
    keys = table["unit_key"].to_numpy()
    starts = np.append(np.flatnonzero(np.append(True, keys[1:] != keys[:-1])), keys.size)
    series = Series(
        table["share"].to_numpy(),
        table["oil_hours"].to_numpy(),
        starts,
        *(table[name].to_numpy() for name in ("old_oil", "stays", "follows")),
    )
    ratio = carry_over_ratio(series)
    usual = _usual(table)
    lines = _leaks(series, ratio or 0.0, usual["fill"].to_numpy())
    changed = steps(table, starts, lines.scatter, lines.freedom)
    came_back = _came_back(series)
    units = [
        _unit(at, row, lines, float(came_back[at]), changed.get(at))
        for at, row in enumerate(usual.iter_rows(named=True))
    ]
    shares = usual["share"] if len(units) >= FEWEST_UNITS else usual["share"].clear()
    middle, least, most = (shares.quantile(point, "linear") for point in (0.5, 0.1, 0.9))
    return VolumeResult(
        tuple(sorted(units, key=lambda unit: (ORDER.index(unit.verdict), -abs(unit.missing_share), unit.unit_key))),
        middle,
        least,
        most,
        None if ratio is None else ratio > 0,
        fleet_sentences(units, ratio, middle, table["drain_method"]),
        incomplete,
    )


def _usual(table: pl.DataFrame) -> pl.DataFrame:
    """One row a unit, in its order: what its drains are like, and how they are mostly done."""
    return table.group_by("unit_key", maintain_order=True).agg(
        pl.len().alias("drains"),
        pl.col("filled_ml").median().alias("fill"),
        pl.col("missing_ml").mean().alias("missing"),
        pl.col("share").mean(),
        pl.col("oil_hours").median().alias("hours"),
        pl.col("wet").last(),
        pl.col("drain_method").drop_nulls().mode().sort().first().alias("method"),
    )


def _leaks(series: Series, ratio: float, fill: Floats) -> _Lines:
    """Each unit's leak, with its scatter weighed with the fleet's."""
    found = unit_lines(series, ratio)
    freedom = found.freedom.astype(float)
    speaks = freedom >= FEWEST_DRAINS - 2
    noise = found.noise
    if speaks.sum() >= POOLED_FROM:
        fleet = float(np.median(noise[speaks]))
        noise = (noise * freedom + fleet * FLEET_FREEDOM) / (freedom + FLEET_FREEDOM)
        freedom = freedom + FLEET_FREEDOM
    drains = np.diff(series.starts)
    means = np.add.reduceat(series.hours, series.starts[:-1]) / drains
    squares = np.square(series.hours - np.repeat(means, drains))
    varies = np.sqrt(np.add.reduceat(squares, series.starts[:-1]) / drains) > LEAST_HOURS_CV * means
    told = speaks & varies
    error = np.where(told, np.sqrt(noise * found.unscaled), np.nan)
    per_hour = np.where(told, found.per_hour, np.nan)
    of_t = np.maximum(freedom, 1.0)
    adjusted = np.full(told.size, np.nan)
    tested = np.maximum(error, READING_SD * np.sqrt(found.unscaled))
    adjusted[told] = holm(stdtr(of_t[told], -per_hour[told] / tested[told]).tolist())
    return _Lines(per_hour * fill, error * fill, stdtrit(of_t, 0.95) * error * fill, adjusted, noise, freedom)


def _unit(at: int, row: dict[str, Any], lines: _Lines, came_back: float, step: Step | None) -> UnitBalance:
    told = bool(np.isfinite(lines.per_hour[at]))
    per_hour, error, reach = (float(values[at]) for values in (lines.per_hour, lines.error, lines.reach))
    past_noise = told and per_hour * row["hours"] >= NOISE_SHARE * row["fill"]
    leaks = past_noise and lines.adjusted[at] <= FALSE_ALARM
    if step is not None and not (leaks and lines.adjusted[at] < step.p):
        verdict = STEP
    elif leaks:
        verdict = LOSES
    else:
        verdict = _without_leak(row["share"], most_left_behind(row["method"]), told)
    wet = row["wet"] or (step is not None and step.wet)
    balance = UnitBalance(
        unit_key=row["unit_key"],
        drains=row["drains"],
        fill=row["fill"],
        missing=row["missing"],
        missing_share=row["share"],
        per_hour=per_hour if told else None,
        error=error if told else None,
        low=per_hour - reach if told else None,
        high=per_hour + reach if told else None,
        came_back=came_back if np.isfinite(came_back) else None,
        verdict=verdict,
        step_on=step.on if verdict == STEP and step is not None else None,
        inspect=verdict in (LOSES, STEP) and wet,
        reason="",
    )
    return unit_reason(balance, step, row["hours"], row["method"])


def _without_leak(share: float, most: float | None, told: bool) -> str:
    """Verdict on the mean alone: what its way of draining leaves is usual; more needs hours to rule out a leak."""
    if abs(share) <= NOISE_SHARE:
        return BALANCED
    if share < 0:
        return OVER
    if most is not None and share <= most:
        return USUAL
    return SHORT if told else CANNOT_TELL


def _came_back(series: Series) -> Floats:
    """Share of what drains were short of, beyond the unit's usual, that the next gave back, (U,).

    Neighbours of a series whose shortfalls all come back are correlated by -1/2, so it is -2 times the correlation,
    between 0 and 1; nan where it may be chance (one-sided 5 %).
    """
    begins, drains = series.starts[:-1], np.diff(series.starts)
    rest = series.share - np.repeat(np.add.reduceat(series.share, begins) / drains, drains)
    linked = series.follows & series.old_oil
    products = np.where(linked, rest * np.roll(rest, 1), 0.0)
    pairs = np.add.reduceat(linked.astype(float), begins)
    total = np.add.reduceat(np.square(rest), begins) / drains
    known = (pairs + 1 >= CARRY_OVER_DRAINS) & (total > 0)
    correlation = np.add.reduceat(products, begins) / np.maximum(pairs, 1.0) / np.where(known, total, 1.0)
    sure = known & (correlation * np.sqrt(pairs) <= ndtri(0.05))
    return np.where(sure, np.clip(-2.0 * correlation, 0.0, 1.0), np.nan)
