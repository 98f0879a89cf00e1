"""Units in which a part falls due in each of the next weeks, on the same simulated riding as the services."""

from __future__ import annotations

from datetime import date

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.forecast_fleet import ForecastFleet
from draincurve.pipeline.deciding.simulated_riding import ridden_weeks
from draincurve.schemas.array_types import Floats


def rebuilt_units(
    fleet: ForecastFleet, state: pl.DataFrame, parts: pl.DataFrame, as_of: date, draws: int, weeks: int
) -> Floats:
    """Units whose first part falls due in each week, (S, W).

    state : rows as those of `fleet`; parts : the table of parts. A part is due in the week in which its hours are
    used up, or in that of its date where its age sets it; what is due already is due in the first week.
    """
    used = np.cumsum(fleet.booked[None] + ridden_weeks(fleet.riding, fleet.begin, weeks, draws), axis=2)
    aged = pl.when(pl.col("set_by") == "maker's days").then((pl.col("due_on") - pl.lit(as_of)).dt.total_days())
    first = parts.group_by("unit_id", "site").agg(
        pl.col("hours_left").min(),
        (aged // 7).min().alias("aged_week"),
        (pl.col("due_on") <= as_of).any().alias("now"),
    )
    units = state.select("unit_id", "site").join(
        first, on=["unit_id", "site"], how="left", nulls_equal=True, maintain_order="left"
    )
    left = units["hours_left"].cast(pl.Float64).fill_null(np.inf).to_numpy()
    left = np.where(units["now"].fill_null(False).to_numpy(), -1.0, left)
    over = used > left[None, :, None]
    over |= units["aged_week"].fill_null(weeks).to_numpy()[None, :, None] <= np.arange(weeks)
    begins = np.diff(
        np.concatenate((np.zeros((*over.shape[:2], 1), dtype=bool), over), axis=2).astype(np.int8), axis=2
    )
    return np.asarray(begins.clip(0).sum(axis=1), dtype=np.float64)
