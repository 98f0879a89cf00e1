"""From hours left to a date: bookings first, then the random walk of riding, and never past the oil's age."""

from __future__ import annotations

from datetime import date
from enum import StrEnum

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.booked_events import first_event_over
from draincurve.pipeline.deciding.first_passage import effective_variance, passage_days

EARLY_MIDDLE_LATE = (0.1, 0.5, 0.9)
FARTHEST_DAYS = 3650
"""No date is given farther off than this; a unit that hardly runs is due by then."""

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


def due_dates(units: pl.DataFrame, events: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """One row per row of `units`, in its order: the columns of DATE_COLUMNS.

    units : unit_key, interval_h, hours_on_oil, hours_left [h], last_drained_on, oil_days [days, null where
    no limit], hours_per_day, rate_variance, day_variance;  events : as `booked_events` gives them. due_on
    is the median and due_on_early to due_on_late the 80 % range, both rounded down to whole days; a date
    that comes from a booking has no range. Dates are never before `as_of`: what is overdue is due today.
    Dates are null where nothing gives one, and due_from says why.
    """
    booked = first_event_over(units, events)
    known = units.join(booked, on="unit_key", how="left", maintain_order="left")
    walk = _walk_dates(known, as_of)
    by_hours = known.hstack(walk).with_columns(_by_hours_from().alias("due_from"))
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
    found = pl.lit(str(DueFrom.RIDING))
    for condition, word in reversed(words):
        found = pl.when(condition.fill_null(False)).then(pl.lit(str(word))).otherwise(found)
    return found


def _walk_dates(known: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """Dates of the random walk from today, or from the end of the bookings; null where it cannot run."""
    start = pl.coalesce("booked_until", pl.lit(as_of))
    begun = known.select(
        ((start - pl.lit(as_of)).dt.total_days()).alias("begin"),
        "hours_after",
        "hours_per_day",
        "day_variance",
        "rate_variance",
    )
    begin, hours, drift, by_day, by_rate = (begun[name].cast(pl.Float64).to_numpy() for name in begun.columns)
    runs = np.flatnonzero((hours > 0) & (drift > 0))
    days = np.where((hours <= 0)[:, None], begin[:, None], np.full((known.height, 3), np.nan))
    variance = effective_variance(hours[runs], drift[runs], by_day[runs], by_rate[runs])
    days[runs] = begin[runs, None] + passage_days(hours[runs], drift[runs], variance, EARLY_MIDDLE_LATE)
    names = ("due_on_early", "due_on", "due_on_late")
    whole = pl.DataFrame({name: days[:, j] for j, name in enumerate(names)}, nan_to_null=True)
    return whole.select(
        (pl.lit(as_of) + pl.duration(days=pl.col(name).clip(0, FARTHEST_DAYS).floor().cast(pl.Int64))).alias(name)
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
