"""From hours left to a date: bookings first, then simulated riding, and never past the oil's age.

The day on which the hours left are exceeded is a whole day, and riding days are few, so no date has exactly half of
the simulations before it. due_on is the last day by which fewer than half have run out, counting those that do on
this very day by half; the late end is the same with nine tenths, the early end the first day with a tenth or more.
"""

from __future__ import annotations

from datetime import date
from enum import StrEnum

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.booked_events import first_event_over
from draincurve.pipeline.deciding.riding_history import RidingHistory, of_units
from draincurve.pipeline.deciding.simulated_riding import SIMULATIONS, day_points

EARLY_MIDDLE_LATE = (0.1, 0.5, 0.9)
FARTHEST_DAYS = 3650
"""No date is later than this many days ahead; a unit that hardly runs is due by then."""

DATE_COLUMNS = ("unit_key", "due_on", "due_on_early", "due_on_late", "due_before", "due_from")


class DueFrom(StrEnum):
    """What the date comes from, or why there is none."""

    OVERDUE = "overdue"
    BOOKING = "booking"
    RIDING = "riding"
    OIL_AGE = "oil age"
    UNKNOWN_OIL = "unknown oil"
    NO_RATE = "no rate"
    NO_HOURS = "no hours on oil"
    NO_INTERVAL = "no interval"


def due_dates(units: pl.DataFrame, events: pl.DataFrame, riding: RidingHistory, as_of: date) -> pl.DataFrame:
    """One row per row of `units`, in its order: the columns of DATE_COLUMNS.

    units : unit_key, interval_h, hours_on_oil, hours_left [h], last_drained_on, oil_days [days, null where
    no limit];  events : as `booked_events` gives them;  riding : rows as those of `units`. due_on is the median of
    the day on which the hours run out, and due_on_early to due_on_late its 80 % range; a date that comes from a
    booking has no range. Dates are never before `as_of`: what is overdue is due today.
    Dates are null where nothing gives one, and due_from says why.
    """
    booked = first_event_over(units, events)
    known = units.join(booked, on="unit_key", how="left", maintain_order="left")
    ridden = _riding_dates(known, riding, as_of)
    by_hours = known.hstack(ridden).with_columns(_by_hours_from().alias("due_from"))
    today, event = pl.lit(as_of), pl.col("due_before")
    names = ("due_on_early", "due_on", "due_on_late")
    dated = by_hours.with_columns(
        pl.when(pl.col("due_from").is_in([DueFrom.OVERDUE, DueFrom.UNKNOWN_OIL]))
        .then(today)
        .when(pl.col("due_from") == DueFrom.BOOKING)
        .then(event)
        .when(pl.col("due_from") == DueFrom.RIDING)
        .then(pl.col(name))
        .alias(name)
        for name in names
    )
    return _by_oil_age(dated, as_of).select(DATE_COLUMNS)


def _by_hours_from() -> pl.Expr:
    """What a date by hours comes from; a unit without a drain has unknown oil once nothing was logged for it."""
    lost = pl.col("last_drained_on").is_null() & pl.col("hours_on_oil").is_null()
    words = [
        (lost, DueFrom.UNKNOWN_OIL),
        (pl.col("interval_h").is_null(), DueFrom.NO_INTERVAL),
        (pl.col("hours_left") <= 0, DueFrom.OVERDUE),
        (pl.col("due_before").is_not_null(), DueFrom.BOOKING),
        (pl.col("hours_on_oil").is_null(), DueFrom.NO_HOURS),
        (pl.col("due_on").is_null(), DueFrom.NO_RATE),
    ]
    due_from = pl.lit(str(DueFrom.RIDING))
    for condition, word in reversed(words):
        due_from = pl.when(condition.fill_null(False)).then(pl.lit(str(word))).otherwise(due_from)
    return due_from


def _riding_dates(known: pl.DataFrame, riding: RidingHistory, as_of: date) -> pl.DataFrame:
    """Dates of simulated riding from the first open day, or after the bookings; null where there is none."""
    until = (pl.col("booked_until") - pl.lit(as_of)).dt.total_days()
    booked = known.select(until.fill_null(-1)).to_series().to_numpy()
    hours = known["hours_after"].cast(pl.Float64).fill_null(float("nan")).to_numpy()
    days = np.full((known.height, 3), np.nan)
    days[hours <= 0] = np.maximum(booked, 0)[hours <= 0, None]
    runs = np.flatnonzero((hours > 0) & (riding.rate > 0))
    begin = np.maximum(booked + 1, riding.first_day)[runs]
    twice_ranks = np.array([round(2 * point * SIMULATIONS) for point in EARLY_MIDDLE_LATE])
    points = day_points(of_units(riding, runs), hours[runs], begin, twice_ranks, SIMULATIONS)
    late = points[:, 1:] - 1
    days[runs] = np.column_stack([np.minimum(points[:, 0], late[:, 0]), late])
    names = ("due_on_early", "due_on", "due_on_late")
    whole = pl.DataFrame({name: days[:, j] for j, name in enumerate(names)}, nan_to_null=True)
    return whole.select(
        (pl.lit(as_of) + pl.duration(days=pl.col(name).clip(upper_bound=FARTHEST_DAYS).cast(pl.Int64))).alias(name)
        for name in names
    )


def _by_oil_age(dated: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """Dates limited by the age of the oil, which also gives a date where hours give none."""
    oldest = pl.col("last_drained_on") + pl.duration(days=pl.col("oil_days").floor().cast(pl.Int64))
    aged = pl.max_horizontal(oldest, pl.lit(as_of))
    first = (pl.col("oldest") < pl.col("due_on")) | (pl.col("due_on").is_null() & pl.col("oldest").is_not_null())
    return (
        dated.with_columns(pl.when(pl.col("oil_days").is_not_null()).then(aged).alias("oldest"))
        .with_columns(first.fill_null(False).alias("aged_first"))
        .with_columns(
            *(pl.min_horizontal(name, "oldest").alias(name) for name in ("due_on_early", "due_on", "due_on_late")),
            pl.when("aged_first").then(pl.lit(str(DueFrom.OIL_AGE))).otherwise("due_from").alias("due_from"),
        )
    )
