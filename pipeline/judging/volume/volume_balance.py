"""The balance of each unit: loses oil, was not fully drained, or is undecided; with evidence and range.

A leak loses more the longer the oil runs, so it is the slope of the missing volume over hours (t test, Holm over
units). A constant shortfall is a question about the drain. With five units or more each unit's scatter is pooled with
the fleet's, and where the fleet shows carry-over (see carry_over_model) the lines allow for it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from scipy.special import ndtri, stdtr, stdtrit

from draincurve.pipeline.describing import by_unit_batches, most_left_behind
from draincurve.pipeline.holm import holm
from draincurve.pipeline.judging.volume.carry_over_model import Series, balance_lines, carry_over_ratio
from draincurve.pipeline.judging.volume.level_shifts import Step, steps
from draincurve.pipeline.judging.volume.missing_oil import FALSE_ALARM, NOISE_SHARE, READING_SD, missing_oil
from draincurve.pipeline.judging.volume.unit_balance import UnitBalance, VolumeResult
from draincurve.pipeline.judging.volume.volume_sentences import (
    BALANCED,
    CANNOT_TELL,
    LOSES,
    OVER,
    SHORT,
    STEP,
    USUAL,
    fleet_sentences,
    unit_reason,
)
from draincurve.schemas.array_types import Floats

FEWEST_DRAINS = 4
LEAST_HOURS_CV = 0.15
"""With less variation of hours (standard deviation over mean) a leak looks like a constant shortfall."""

POOLED_FROM = 5
"""From this number of units on, a unit's scatter is pooled with the fleet's median scatter."""

FLEET_FREEDOM = 4.0
"""Degrees of freedom that the fleet's median scatter has in the pooling."""

CARRY_OVER_DRAINS = 5

VERDICT_ORDER = (LOSES, STEP, SHORT, OVER, CANNOT_TELL, USUAL, BALANCED)
"""From the verdict to act on first to the one that needs nothing."""

FEWEST_UNITS = 3
"""With fewer units it is not known what is usual."""


@dataclass(frozen=True)
class _Lines:
    """Leaks of units [ml/h], (U,) each; NaN where not estimable.

    half_range : half the 90 % range; adjusted : p-value after Holm's correction; scatter : variance of shares about
    the line, pooled with the fleet's; freedom : degrees of freedom of `scatter`.
    """

    per_hour: Floats
    error: Floats
    half_range: Floats
    adjusted: Floats
    scatter: Floats
    freedom: Floats


def volume_balance(
    drains: pl.DataFrame, *, carry_over_units: int | None = None, described_units: int | None = None
) -> VolumeResult:
    """The balance of every unit with both volumes, and of the fleet.

    drains : accepted rows; carry_over_units : evenly spaced units on which carry-over is estimated; described_units :
    the most striking units, whose balance is put in words; None for all.
    """
    table, incomplete = missing_oil(drains)
    if not table.height:
        return VolumeResult((), None, None, None, None, (), incomplete, "no drain has both volumes and its hours")
    starts = np.append(np.flatnonzero(np.diff(table["unit_key"].rle_id().to_numpy(), prepend=-1)), table.height)
    series = Series(
        table["share"].to_numpy(),
        table["oil_hours"].to_numpy(),
        starts,
        *(table[name].to_numpy() for name in ("old_oil", "stays", "follows")),
    )
    ratio = carry_over_ratio(series.thinned(carry_over_units))
    usual = by_unit_batches(table, _usual)
    lines = _leaks(series, ratio or 0.0, fill=usual["fill"].to_numpy())
    changed = steps(table, starts, scatter=lines.scatter, freedom=lines.freedom)
    verdicts = _verdicts(usual, lines, changed=changed)
    shares = usual["share"].to_numpy()
    ranks = np.array([VERDICT_ORDER.index(verdict) for verdict in verdicts], dtype=np.int64)
    striking = np.lexsort((-np.abs(shares), ranks))  # stable, so by name where all else is equal
    described = striking[:described_units]
    came_back = _came_back(series)
    asked = usual[described].iter_rows(named=True)
    units = [
        _unit(
            unit, row, verdict=verdicts[unit], lines=lines, came_back=float(came_back[unit]), step=changed.get(unit)
        )
        for unit, row in zip(described.tolist(), asked, strict=True)
    ]
    usual_shares = usual["share"] if usual.height >= FEWEST_UNITS else usual["share"].clear()
    middle, least, most = (usual_shares.quantile(point, "linear") for point in (0.5, 0.1, 0.9))
    return VolumeResult(
        tuple(units),
        middle,
        least,
        most,
        None if ratio is None else ratio > 0,
        fleet_sentences(shares, ratio, usual=middle, methods=table["drain_method"]),
        incomplete,
        verdicts=pl.DataFrame({"unit_key": usual["unit_key"], "verdict": verdicts})[striking],
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


def _leaks(series: Series, ratio: float, *, fill: Floats) -> _Lines:
    """Each unit's leak, with its scatter pooled with the fleet's."""
    fitted = balance_lines(series, ratio)
    freedom = fitted.freedom.astype(float)
    enough = freedom >= FEWEST_DRAINS - 2
    noise = fitted.noise
    if enough.sum() >= POOLED_FROM:
        fleet = float(np.median(noise[enough]))
        noise = (noise * freedom + fleet * FLEET_FREEDOM) / (freedom + FLEET_FREEDOM)
        freedom = freedom + FLEET_FREEDOM
    drains = np.diff(series.starts)
    means = np.add.reduceat(series.hours, series.starts[:-1]) / drains
    squares = np.square(series.hours - np.repeat(means, drains))
    varies = np.sqrt(np.add.reduceat(squares, series.starts[:-1]) / drains) > LEAST_HOURS_CV * means
    estimable = enough & varies
    error = np.where(estimable, np.sqrt(noise * fitted.unscaled), np.nan)
    per_hour = np.where(estimable, fitted.per_hour, np.nan)
    of_t = np.maximum(freedom, 1.0)
    adjusted = np.full(estimable.size, np.nan)
    tested = np.maximum(error, READING_SD * np.sqrt(fitted.unscaled))
    adjusted[estimable] = holm(stdtr(of_t[estimable], -per_hour[estimable] / tested[estimable]).tolist())
    return _Lines(per_hour * fill, error * fill, stdtrit(of_t, 0.95) * error * fill, adjusted, noise, freedom)


def _verdicts(usual: pl.DataFrame, lines: _Lines, *, changed: Mapping[int, Step]) -> list[str]:
    """The verdict on every unit. A step takes precedence over a leak whose evidence is weaker."""
    hours, fill, share = (usual[name].to_numpy() for name in ("hours", "fill", "share"))
    estimable = np.isfinite(lines.per_hour)
    leaks = estimable & (lines.per_hour * hours >= NOISE_SHARE * fill) & (lines.adjusted <= FALSE_ALARM)
    steps_on = np.zeros(share.size, dtype=bool)
    for unit, step in changed.items():
        steps_on[unit] = not (leaks[unit] and lines.adjusted[unit] < step.p)
    methods = usual["method"]
    leaves = {method: most_left_behind(method) for method in methods.unique()}
    most = methods.replace_strict(leaves, return_dtype=pl.Float64).cast(pl.Float64).fill_null(-np.inf).to_numpy()
    cases = (
        (steps_on, STEP),
        (leaks, LOSES),
        (np.abs(share) <= NOISE_SHARE, BALANCED),
        (share < 0, OVER),
        (share <= most, USUAL),  # what its way of draining leaves; more needs hours to rule out a leak
        (estimable, SHORT),
    )
    verdicts = np.select([when for when, _ in cases], [verdict for _, verdict in cases], CANNOT_TELL)
    return [str(verdict) for verdict in verdicts]


def _unit(
    unit: int, row: dict[str, Any], *, verdict: str, lines: _Lines, came_back: float, step: Step | None
) -> UnitBalance:
    estimable = bool(np.isfinite(lines.per_hour[unit]))
    per_hour, error, half_range = (float(values[unit]) for values in (lines.per_hour, lines.error, lines.half_range))
    wet = row["wet"] or (step is not None and step.wet)
    balance = UnitBalance(
        unit_key=row["unit_key"],
        drains=row["drains"],
        fill=row["fill"],
        missing=row["missing"],
        missing_share=row["share"],
        per_hour=per_hour if estimable else None,
        error=error if estimable else None,
        low=per_hour - half_range if estimable else None,
        high=per_hour + half_range if estimable else None,
        came_back=came_back if np.isfinite(came_back) else None,
        verdict=verdict,
        step_on=step.on if verdict == STEP and step is not None else None,
        inspect=verdict in (LOSES, STEP) and wet,
        reason="",
    )
    return unit_reason(balance, step, usual_hours=row["hours"], method=row["method"])


def _came_back(series: Series) -> Floats:
    """Share of what drains were short of, beyond the unit's usual, that the next gave back, (U,).

    Neighbours of a series whose shortfalls all come back are correlated by -1/2, so it is -2 times the correlation,
    between 0 and 1; NaN where not significant (one-sided 5 %).
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
