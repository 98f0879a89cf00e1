"""One interval per row: risk and cost of the oil, then caps, then rounding down."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.caps import HOUR_SLACK, OIL, BindingLimit, binding_limit, round_down
from draincurve.pipeline.deciding.costs import CostIntervals, NoOptimum, cost_interval
from draincurve.pipeline.deciding.oil_curves import OilCurves, channel_risks, hours_points, risk_interval
from draincurve.schemas.array_types import Booleans, Floats
from draincurve.schemas.errors import ContractError
from draincurve.schemas.settings import Settings


@dataclass(frozen=True, slots=True)
class DecidedIntervals:
    """What was decided, row by row.

    table : interval_h, interval_low_h, interval_high_h [h, null where nothing sets them], set_by
    unrounded_h : array, shape (n,) [h], infinite where nothing limits
    cost_h : array, shape (n,) [h], the shortest cost interval, infinite without one;  cost_why : why none
    cost_binds : array, shape (n,), whether the cost interval and not the risk set the hours
    channel_risks : by channel, shape (n,), its own risk at the oil's hours, before caps and rounding
    """

    table: pl.DataFrame
    unrounded_h: Floats
    cost_h: Floats
    cost_why: tuple[NoOptimum, ...]
    cost_binds: Booleans
    channel_risks: Mapping[str, Floats]


def decide_intervals(
    curves: OilCurves,
    caps: Mapping[str, Floats],
    rows: int,
    settings: Settings,
    *,
    log_hours: Floats | None = None,
) -> DecidedIntervals:
    """The smaller of the oil's hours and the caps, rounded down to the step.

    curves : of the oil, with `rows` rows; a channel without a fit is absent
    caps : name -> array, shape (rows,) [h], infinite where the cap does not apply
    log_hours : the draws of the oil's log hours at the accepted risk, (rows, draws), where they are known

    interval_low_h and interval_high_h are posterior points of the oil's hours at the accepted risk. Its hours are the
    shorter of its risk and its cost interval, where costs are set: costs never lengthen what the accepted risk
    allows.
    set_by is a cap, or the channel that gives most of the oil's risk at its hours.
    """
    known = bool(curves.channels)
    if known and curves.units != rows:
        raise ContractError(f"oil: {curves.units} curves for {rows} rows; expected one each, in order")
    for channel in (*curves.channels, OIL):
        if channel in caps:
            raise ContractError(f"{channel}: names a channel and a cap; one would hide the other")
    endless = np.full(rows, np.inf)
    risk_h = risk_interval(curves, settings.accepted_risk) if known else endless
    costs = _costs(curves, settings)
    cost_h, cost_why = (costs.hours, costs.why_none) if costs is not None else (endless, (NoOptimum.FOUND,) * rows)
    oil_h = np.minimum(risk_h, cost_h)
    binding = binding_limit({**caps, OIL: oil_h} if known else caps, rows)
    rounded = round_down(binding.hours, settings.step_h)
    for name, cap in caps.items():
        over = rounded > cap * (1 + 2 * HOUR_SLACK)
        if over.any():
            raise ContractError(f"interval_h goes past {name}: {rounded[over][0]:g} h")
    risks = channel_risks(curves, oil_h)
    points = np.full((rows, 2), np.nan)
    if known:
        points = hours_points(curves, settings.accepted_risk, log_hours=log_hours)
    return DecidedIntervals(
        _table(rounded, points[:, 0], points[:, 1], _with_channels(binding, risks)),
        binding.hours,
        cost_h,
        cost_why,
        np.isfinite(cost_h) & (binding.hours == cost_h) & (cost_h < risk_h),
        risks,
    )


def shorter_intervals(first: DecidedIntervals, second: DecidedIntervals) -> DecidedIntervals:
    """Of two decisions on the same rows the one with the shorter interval, row by row; the first where they agree."""
    shorter = second.unrounded_h < first.unrounded_h
    unknown = np.full(shorter.size, np.nan)
    return DecidedIntervals(
        pl.DataFrame(
            [
                second.table[name].zip_with(pl.Series(shorter), first.table[name]).alias(name)
                for name in first.table.columns
            ]
        ).select(first.table.columns)
        if shorter.any()
        else first.table,
        np.where(shorter, second.unrounded_h, first.unrounded_h),
        np.where(shorter, second.cost_h, first.cost_h),
        tuple(
            second_why if is_shorter else first_why
            for first_why, second_why, is_shorter in zip(first.cost_why, second.cost_why, shorter, strict=True)
        ),
        np.where(shorter, second.cost_binds, first.cost_binds),
        {
            channel: np.where(
                shorter, *(intervals.channel_risks.get(channel, unknown) for intervals in (second, first))
            )
            for channel in dict.fromkeys((*first.channel_risks, *second.channel_risks))
        },
    )


def _costs(curves: OilCurves, settings: Settings) -> CostIntervals | None:
    change, late = settings.costs.change, settings.costs.late
    if change is None or late is None or not curves.channels:
        return None
    return cost_interval(curves, change, late)


def _with_channels(binding: BindingLimit, risks: Mapping[str, Floats]) -> pl.Series:
    """What set each interval; the oil's name gives way to the channel with the largest risk at the oil's hours."""
    set_by = pl.Series("set_by", binding.set_by.tolist(), dtype=pl.String)
    if not risks:
        return set_by
    largest = np.argmax(list(risks.values()), axis=0)
    channel = pl.Series(np.array(list(risks))[largest].tolist(), dtype=pl.String)
    return channel.zip_with(set_by == OIL, set_by).alias("set_by")


def _table(rounded: Floats, low: Floats, high: Floats, set_by: pl.Series) -> pl.DataFrame:
    numbers = {
        "interval_h": np.where(np.isfinite(rounded), rounded, np.nan),
        "interval_low_h": low,
        "interval_high_h": high,
    }
    return pl.DataFrame(
        [pl.Series(name, values, dtype=pl.Float64, nan_to_null=True) for name, values in numbers.items()] + [set_by]
    )
