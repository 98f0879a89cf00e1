"""Intervals for a unit without history: the fleet's, per spring type and oil grade in use."""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.caps import data_range_limit, shorter_limit
from draincurve.pipeline.deciding.intervals import decide_intervals, shorter_intervals
from draincurve.pipeline.deciding.oil_curves import OilCurves
from draincurve.pipeline.describing import longest_fill
from draincurve.schemas.fleet_intervals_table import COLUMNS, checked_fleet_intervals
from draincurve.schemas.settings import Settings


def fleet_interval_table(
    combinations: pl.DataFrame,
    curves: OilCurves,
    drains: pl.DataFrame,
    settings: Settings,
    state: pl.DataFrame | None = None,
    *,
    other_curves: Sequence[OilCurves] = (),
) -> pl.DataFrame:
    """One row per combination, the columns of schemas/fleet_intervals_table.py, by spring type and oil grade.

    combinations : spring_type, oil_grade, drains, units
    curves : of the oil of a new unit, with rows as those of `combinations`
    state : current units. Their maker's limits, the shortest on the same spring type or else the
    shortest of all, hold for a new unit too: its own limit is not known yet, and unknown is never safe.
    other_curves : the same by other interpretations of what is asked about; the shortest interval counts
    Raises ContractError where the result breaks its schema.
    """
    springs = combinations["spring_type"]
    spring_limits = _shortest_limits(springs, state)
    caps = {
        "maker_limit": shorter_limit(spring_limits, settings.caps.max_interval_h),
        "data_range": data_range_limit(springs, longest_fill(drains), settings.data_range_factor),
    }
    decided = reduce(
        shorter_intervals,
        [
            decide_intervals(interpretation_curves, caps, combinations.height, settings)
            for interpretation_curves in (curves, *other_curves)
        ],
    )
    table = (
        combinations.select(
            "spring_type", "oil_grade", pl.col("drains").cast(pl.Int64), pl.col("units").cast(pl.Int64)
        )
        .hstack(decided.table)
        .select(COLUMNS)
        .sort("spring_type", "oil_grade")
    )
    return checked_fleet_intervals(table, settings)


def _shortest_limits(springs: pl.Series, state: pl.DataFrame | None) -> pl.Series:
    """Shortest maker's limit among the units on each spring type, else of all units; null without any [h]."""
    if state is None or state["max_interval_h"].null_count() == state.height:
        return pl.Series("max_interval_h", np.full(springs.len(), np.nan), nan_to_null=True, dtype=pl.Float64)
    shortest = state.group_by("spring_type").agg(pl.col("max_interval_h").min())
    joined = springs.to_frame("spring_type").join(shortest, on="spring_type", how="left", maintain_order="left")
    return joined["max_interval_h"].fill_null(state["max_interval_h"].min())
