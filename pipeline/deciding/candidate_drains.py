"""Candidate drains: which units may be drained next, and at which hours, within every cap."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.caps import data_range_limit, round_down, shorter_limit, wear_limit
from draincurve.pipeline.deciding.oil_curves import OilCurves, risk_at, risk_interval
from draincurve.pipeline.describing import longest_fill
from draincurve.pipeline.fitting import ChannelFit
from draincurve.schemas.array_types import Booleans, Floats, Indices
from draincurve.schemas.settings import Settings

HOURS_TRIED = 10
SHORTEST_SHARE = 0.5
"""Nothing earlier than this share of the fleet's usual fill: a drain costs oil and work."""
MOST_RISK = 2.0
"""Hours past the accepted risk go up to this multiple of it."""
MOST_UNITS = 300
"""Most units to choose from: half of them those with the fewest drains, the rest at even steps through the fleet."""


@dataclass(frozen=True, slots=True)
class Candidates:
    """Candidate drains: unit (row of the state), hours [h], probability of oil past fit; (C,) each."""

    row: Indices
    hours: Floats
    risk: Floats
    past: Booleans


def units_to_sample(state: pl.DataFrame) -> Indices:
    """Indices of the units that may be drained, ascending."""
    order = np.argsort(state["drains"].to_numpy(), kind="stable")
    half = MOST_UNITS // 2
    few, rest = order[:half], np.sort(order[half:])
    others = rest[np.unique(np.linspace(0, max(rest.size - 1, 0), min(half, rest.size)).astype(np.intp))]
    return np.sort(np.concatenate((few, others))).astype(np.intp)


def sample_candidates(
    fits: Mapping[str, ChannelFit],
    curves: OilCurves,
    state: pl.DataFrame,
    next_service: pl.DataFrame,
    settings: Settings,
) -> Candidates:
    """Hours on the shop's step for every unit that may be drained, from the hours on its oil up to its caps."""
    rows = [fit.drains.rows for fit in fits.values()]
    longest = pl.concat([longest_fill(some) for some in rows]).group_by("spring_type").agg(pl.col("longest_h").max())
    usual = float(np.median(np.concatenate([some["oil_hours"].to_numpy() for some in rows])))
    cap = np.minimum.reduce(
        [
            shorter_limit(state["max_interval_h"], settings.caps.max_interval_h),
            wear_limit(state),
            data_range_limit(state["spring_type"], longest, settings.data_range_factor),
        ]
    )
    riskiest = min(MOST_RISK * settings.accepted_risk, 0.95)
    upper = np.minimum(cap, risk_interval(curves, riskiest))
    on_oil = _hours_on_oil(state, next_service)
    lower = np.maximum(on_oil, SHORTEST_SHARE * usual)
    signed = state["signs"].is_not_null().to_numpy()
    unit_rows, hours = [np.empty(0, dtype=np.int64)], [np.empty(0)]
    for row in np.flatnonzero(~signed & np.isfinite(upper) & (upper > 0) & (upper >= on_oil)):
        tried = np.geomspace(min(lower[row], upper[row]), upper[row], HOURS_TRIED)
        steps = np.unique(round_down(tried, settings.step_h))
        steps = steps[(steps >= on_oil[row]) & (steps > 0)]
        unit_rows.append(np.full(steps.size, row))
        hours.append(steps)
    row_of, hours_of = np.concatenate(unit_rows), np.concatenate(hours)
    risk = risk_at(curves.rows(row_of.astype(np.intp)), hours_of)
    return Candidates(row_of, hours_of, risk, risk > settings.accepted_risk * (1 + 1e-9))


def _hours_on_oil(state: pl.DataFrame, next_service: pl.DataFrame) -> Floats:
    """Hours on each unit's oil now [h]; 0 where they are not known."""
    joined = state.select("unit_id", "site").join(
        next_service.select("unit_id", "site", "hours_on_oil"),
        on=["unit_id", "site"],
        how="left",
        nulls_equal=True,
        maintain_order="left",
    )
    return joined["hours_on_oil"].fill_null(0.0).to_numpy()
