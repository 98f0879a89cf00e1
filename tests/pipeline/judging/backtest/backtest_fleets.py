"""Invented fleets as accepted drains, for the tests of the backtest."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl

from draincurve.pipeline.simulation.fleet_plan import ChannelPlan, FleetPlan, Level
from draincurve.pipeline.simulation.fleet_tables import simulate_fleet
from draincurve.pipeline.simulation.scenarios import curve


def plan(units: int = 16, drains: int = 192, **changes: object) -> FleetPlan:
    """A fleet whose ratings follow the model: two springs, three riders, hours that differ three-fold."""
    channels: tuple[ChannelPlan, ...] = (
        curve("colour", 14.0, hours_slope=2.6, unit_sd=0.9),
        curve("debris", 12.0, hours_slope=2.6, unit_sd=0.9),
    )
    base = FleetPlan(
        name="backtest",
        units=units,
        drains=drains,
        channels=channels,
        springs=(Level("Plain 46"), Level("Wound 48", {"debris": 0.7})),
        riders=(
            Level("Brask"),
            Level("Holm", {"colour": 0.8, "debris": 0.8}),
            Level("Vik", {"colour": 1.2, "debris": 1.2}),
        ),
        hours_log_sd=0.5,
        fill_hours=14.0,
    )
    return replace(base, **changes)


def accepted(fleet_plan: FleetPlan, seed: int) -> pl.DataFrame:
    """The fleet's drains as validation hands them on."""
    drains = simulate_fleet(fleet_plan, np.random.default_rng(seed)).tables["drains"]
    return drains.with_columns(
        pl.col("unit_id").alias("unit_key"),
        pl.int_range(1, pl.len() + 1).alias("line"),
        *(
            pl.col(f"{channel}_rating").cast(pl.Int64).alias(f"{channel}_{end}")
            for channel in ("colour", "debris")
            for end in ("low", "high")
        ),
    )


def with_ratings_shuffled(drains: pl.DataFrame, seed: int) -> pl.DataFrame:
    """Ratings dealt out at random over all drains: nothing in the log tells them."""
    order = np.random.default_rng(seed).permutation(drains.height)
    names = [f"{channel}_{end}" for channel in ("colour", "debris") for end in ("low", "high")]
    return drains.with_columns(drains[name].gather(order) for name in names)
