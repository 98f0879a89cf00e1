"""What the forecast needs of each unit in service: hours, interval, riding, bookings by week, fill and oil."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.booked_events import booked_events
from draincurve.pipeline.deciding.caps import shorter_limit
from draincurve.pipeline.deciding.riding_history import RidingHistory, riding_history
from draincurve.pipeline.deciding.riding_rates import known_usage, riding_rates
from draincurve.pipeline.describing import drains_until, fill_volumes
from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.forecast_table import UNKNOWN_GRADE
from draincurve.schemas.settings import Settings


@dataclass(frozen=True, slots=True)
class ForecastTables:
    """Accepted rows; the last three may be None."""

    drains: pl.DataFrame
    units: pl.DataFrame | None
    usage: pl.DataFrame | None
    bookings: pl.DataFrame | None


@dataclass(frozen=True)
class ForecastFleet:
    """Units in service, (U,) each unless said otherwise.

    hours, interval, age [h, h, days], nan where not known; oil_days : longest age, infinite where no limit;
    riding : rows as the units; booked : (U, W) [h]; begin : first
    day of riding after the last booking, from as_of; fill_l : nan where not known; grade : index into `grades`.
    """

    hours: Floats
    interval: Floats
    age: Floats
    oil_days: Floats
    riding: RidingHistory
    booked: Floats
    begin: Integers
    fill_l: Floats
    grade: Integers
    grades: tuple[str, ...]


def forecast_fleet(
    state: pl.DataFrame,
    next_service: pl.DataFrame,
    tables: ForecastTables,
    settings: Settings,
    as_of: date,
    weeks: int,
) -> ForecastFleet:
    """The units of `state`, in its order.

    state : as `fleet_state` gives it; next_service : the table of that name.
    """
    decided = state.join(
        next_service.select("unit_id", "site", "interval_h", "hours_on_oil"),
        on=["unit_id", "site"],
        how="left",
        nulls_equal=True,
        maintain_order="left",
    )
    known = drains_until(tables.drains, as_of)
    days = known_usage(tables.usage, as_of)
    rates = riding_rates(state, known, days)
    riding = riding_history(state, days, rates, as_of, seed=settings.seed)
    booked, until = _by_week(state, booked_events(tables.bookings, days, as_of), as_of, weeks)
    names = decided["oil_grade"].fill_null(UNKNOWN_GRADE)
    grades = tuple(names.unique().sort().to_list())
    return ForecastFleet(
        hours=_numbers(decided["hours_on_oil"]),
        interval=_numbers(decided["interval_h"]),
        age=_numbers(decided.select((pl.lit(as_of) - pl.col("last_drained_on")).dt.total_days()).to_series()),
        oil_days=shorter_limit(state["max_oil_days"], settings.caps.max_oil_days),
        riding=riding,
        booked=booked,
        begin=np.maximum(until, riding.first_day),
        fill_l=_numbers(_fills(state, known, tables.units)) / 1000.0,
        grade=np.array([grades.index(name) for name in names], dtype=np.int64),
        grades=grades,
    )


def _fills(state: pl.DataFrame, drains: pl.DataFrame, units: pl.DataFrame | None) -> pl.Series:
    """Fill of each unit [ml]: the register's, else what its drains usually had, else null."""
    volumes = fill_volumes(drains, units).select("unit_key", "fill_ml")
    return state.select("unit_key").join(volumes, on="unit_key", how="left", maintain_order="left")["fill_ml"]


def _by_week(state: pl.DataFrame, events: pl.DataFrame, as_of: date, weeks: int) -> tuple[Floats, Integers]:
    """Booked hours [h] of each unit and week, (U, W), and days from as_of to the first after its bookings, (U,)."""
    index_of = {key: index for index, key in enumerate(state["unit_key"])}
    booked, until = np.zeros((state.height, weeks)), np.zeros(state.height, dtype=np.int64)
    for key, starts, ends, hours in events.select("unit_key", "starts_on", "ends_on", "hours").iter_rows():
        index, week = index_of.get(key), (starts - as_of).days // 7
        if index is not None:
            until[index] = max(until[index], (ends - as_of).days + 1)
            if week < weeks:
                booked[index, week] += hours
    return booked, until


def _numbers(column: pl.Series, unknown: float = float("nan")) -> Floats:
    """Numbers of a column, (n,)."""
    return column.cast(pl.Float64).fill_null(unknown).to_numpy().copy()
