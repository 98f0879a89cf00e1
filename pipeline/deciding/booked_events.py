"""Booked events: the one before which oil must be changed, since an event cannot be interrupted for a change."""

from __future__ import annotations

from datetime import date

import polars as pl

from draincurve.pipeline.deciding.riding_rates import RIDING_DAY_H

EVENT_SCHEMA = {"unit_key": pl.String, "starts_on": pl.Date, "ends_on": pl.Date, "hours": pl.Float64}
HOUR_SLACK = 1e-9


def booked_events(bookings: pl.DataFrame | None, days: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """Events still to come: unit_key, starts_on, ends_on, hours [h], in order of date within a unit.

    bookings : unit_key, date, hours [h, may be null], and perhaps event (its name);  days : usage so far,
    as `known_usage` gives it. Rows of one unit on one day are one event, and so are rows of the same name
    on days that follow each other. A booking on `as_of` counts until the unit's usage shows that day. A
    booking without hours counts as the longest booked event or day ridden that is known: unknown is never
    safe.
    """
    if bookings is None:
        return pl.DataFrame(schema=EVENT_SCHEMA)
    ahead = bookings.filter(pl.col("date") >= as_of).join(
        days.select("unit_key", "date"), on=["unit_key", "date"], how="anti"
    )
    name = pl.col("event") if "event" in ahead.columns else pl.lit(None, dtype=pl.String)
    by_day = (
        ahead.with_columns(name.alias("event"))
        .with_columns(pl.col("hours").fill_null(_stand_in(bookings, days)))
        .group_by("unit_key", "date")
        .agg(pl.col("hours").sum(), pl.col("event").drop_nulls().first())
        .sort("unit_key", "date")
    )
    before = {name: pl.col(name).shift().over("unit_key") for name in ("date", "event")}
    goes_on = (pl.col("event") == before["event"]) & ((pl.col("date") - before["date"]).dt.total_days() == 1)
    return (
        by_day.with_columns((~goes_on.fill_null(False)).cum_sum().over("unit_key").alias("number"))
        .group_by("unit_key", "number")
        .agg(
            pl.col("date").min().alias("starts_on"),
            pl.col("date").max().alias("ends_on"),
            pl.col("hours").sum(),
        )
        .sort("unit_key", "starts_on")
        .select(EVENT_SCHEMA.keys())
    )


def first_event_over(units: pl.DataFrame, events: pl.DataFrame) -> pl.DataFrame:
    """Hours left after the bookings, and the event that exceeds them; one row per row of `units`, in its order.

    units : unit_key, hours_left [h] (null is unknown, and counts as none left)
    Returns unit_key; due_before, the first day of the first event during which the hours left would be
    exceeded, null where all events fit; hours_after [h] left after all events; booked_until, their last day.
    """
    run = (
        events.join(units.select("unit_key", "hours_left"), on="unit_key", how="inner")
        .sort("unit_key", "starts_on")
        .with_columns(
            pl.col("hours").cum_sum().over("unit_key").alias("used"),
            pl.col("hours_left").fill_null(0.0).clip(0.0),
        )
    )
    over = (pl.col("used") > pl.col("hours_left") + HOUR_SLACK) | (pl.col("hours_left") <= 0)
    first_over = run.group_by("unit_key").agg(
        pl.col("starts_on").filter(over).min().alias("due_before"),
        pl.col("hours").sum().alias("booked_h"),
        pl.col("ends_on").max().alias("booked_until"),
    )
    return (
        units.select("unit_key", "hours_left")
        .join(first_over, on="unit_key", how="left", maintain_order="left")
        .select(
            "unit_key",
            "due_before",
            (pl.col("hours_left") - pl.col("booked_h").fill_null(0.0)).alias("hours_after"),
            "booked_until",
        )
    )


def _stand_in(bookings: pl.DataFrame, days: pl.DataFrame) -> float:
    """Longest booking or day ridden that is known in the fleet [h], at least a full riding day."""
    longest = (bookings["hours"].max(), days["hours"].max())
    return max([RIDING_DAY_H, *(float(hours) for hours in longest if isinstance(hours, int | float))])
