"""One interval per row: risk and cost of every channel, then caps, then rounding down."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.caps import HOUR_SLACK, BindingLimit, binding_limit, round_down
from draincurve.pipeline.deciding.costs import CostIntervals, NoOptimum, cost_interval
from draincurve.pipeline.deciding.unit_risk import RiskCurves, hours_points, risk_interval
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
    """

    table: pl.DataFrame
    unrounded_h: Floats
    cost_h: Floats
    cost_why: tuple[NoOptimum, ...]
    cost_binds: Booleans


def decide_intervals(
    curves: Mapping[str, RiskCurves], caps: Mapping[str, Floats], rows: int, settings: Settings
) -> DecidedIntervals:
    """The smallest of the channels' hours and the caps, rounded down to the step.

    curves : channel -> curves with `rows` rows; a channel without a fit is absent
    caps : name -> array, shape (rows,) [h], infinite where the cap does not apply

    interval_low_h and interval_high_h belong to the channel whose hours at the accepted risk are the shortest.
    A channel's hours are the shorter of its risk and its cost interval, where costs are set: costs never lengthen
    what the accepted risk allows.
    """
    for channel, curve in curves.items():
        if curve.units != rows:
            raise ContractError(f"{channel}: {curve.units} curves for {rows} rows; expected one each, in order")
        if channel in caps:
            raise ContractError(f"{channel}: names a channel and a cap; one would hide the other")
    risk = {channel: risk_interval(curve, settings.accepted_risk) for channel, curve in curves.items()}
    costs = _costs(curves, settings)
    cost_h, cost_why = _shortest_cost(costs, rows)
    by_channel = {
        channel: np.minimum(hours, costs[channel].hours) if channel in costs else hours
        for channel, hours in risk.items()
    }
    binding = binding_limit({**caps, **by_channel}, rows)
    rounded = round_down(binding.hours, settings.step_h)
    for name, cap in caps.items():
        over = rounded > cap * (1 + 2 * HOUR_SLACK)
        if over.any():
            raise ContractError(f"interval_h goes past {name}: {rounded[over][0]:g} h")
    low, high = _points_of_shortest(curves, risk, settings.accepted_risk, rows)
    shortest_risk = np.min([np.full(rows, np.inf), *risk.values()], axis=0)
    return DecidedIntervals(
        _table(rounded, low, high, binding),
        binding.hours,
        cost_h,
        cost_why,
        np.isfinite(cost_h) & (binding.hours == cost_h) & (cost_h < shortest_risk),
    )


def shorter_intervals(first: DecidedIntervals, second: DecidedIntervals) -> DecidedIntervals:
    """Of two decisions on the same rows the one with the shorter interval, row by row; the first where they agree."""
    shorter = second.unrounded_h < first.unrounded_h
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
            own if is_shorter else why
            for why, own, is_shorter in zip(first.cost_why, second.cost_why, shorter, strict=True)
        ),
        np.where(shorter, second.cost_binds, first.cost_binds),
    )


def _costs(curves: Mapping[str, RiskCurves], settings: Settings) -> dict[str, CostIntervals]:
    change, late = settings.costs.change, settings.costs.late
    if change is None or late is None:
        return {}
    return {channel: cost_interval(curve, change, late) for channel, curve in curves.items()}


def _shortest_cost(costs: Mapping[str, CostIntervals], rows: int) -> tuple[Floats, tuple[NoOptimum, ...]]:
    """Shortest cost interval over the channels; where no channel has one, why the first has none."""
    if not costs:
        return np.full(rows, np.inf), (NoOptimum.FOUND,) * rows
    hours = np.min([found.hours for found in costs.values()], axis=0)
    first = next(iter(costs.values())).why_none
    why = tuple(NoOptimum.FOUND if np.isfinite(at) else reason for at, reason in zip(hours, first, strict=True))
    return hours, why


def _points_of_shortest(
    curves: Mapping[str, RiskCurves], risk: Mapping[str, Floats], accepted_risk: float, rows: int
) -> tuple[Floats, Floats]:
    """5 % and 95 % points of the channel with the shortest hours at the accepted risk; NaN without a channel."""
    points = np.full((rows, 2), np.nan)
    if not curves:
        return points[:, 0], points[:, 1]
    names = list(curves)
    shortest = np.argmin([risk[name] for name in names], axis=0)
    for number, name in enumerate(names):
        chosen = np.flatnonzero(shortest == number)
        points[chosen] = hours_points(curves[name].rows(chosen), accepted_risk)
    return points[:, 0], points[:, 1]


def _table(rounded: Floats, low: Floats, high: Floats, binding: BindingLimit) -> pl.DataFrame:
    numbers = {
        "interval_h": np.where(np.isfinite(rounded), rounded, np.nan),
        "interval_low_h": low,
        "interval_high_h": high,
    }
    return pl.DataFrame(
        [pl.Series(name, values, dtype=pl.Float64, nan_to_null=True) for name, values in numbers.items()]
        + [pl.Series("set_by", binding.set_by.tolist(), dtype=pl.String)]
    )
