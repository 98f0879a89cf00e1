"""Hours on the oil now: what the usage log shows since the last drain, and a cautious count of what it does not show.

What counts as known and what does not:

* A row on the day of the drain counts as ridden after it: at most one day too many, never one too few.
* Days without rows are rest only where that can be believed: the site's log goes on over the gap, and the unit
  has had as long a gap before. Any other gap, at the beginning or at the end, is unknown.
* Unknown days count at the 90 % point of what the unit may have ridden in them, at its rate, with the
  variance of single days and the uncertainty of the rate; and never under what was booked for them.
* A unit without any drain in the log has unknown oil: all hours in its usage log count, and more are
  possible.
"""

from __future__ import annotations

from datetime import date

import polars as pl

from draincurve.pipeline.deciding.riding_rates import CAUTIOUS_POINT

HOURS_COLUMNS = ("unit_key", "hours_on_oil", "hours_on_oil_basis", "drain_day_h", "unknown_days", "unknown_h")


def hours_on_oil(
    state: pl.DataFrame, rates: pl.DataFrame, days: pl.DataFrame, bookings: pl.DataFrame | None, as_of: date
) -> pl.DataFrame:
    """One row per row of `state`, in its order: the columns of HOURS_COLUMNS.

    rates : as `riding_rates` gives it;  days : as `known_usage` gives it.  hours_on_oil [h] is null where
    not known; hours_on_oil_basis is "logged" where usage rows, or a credible rest, cover all time since
    the drain, else "estimated"; drain_day_h [h] is what was ridden on the day of the drain; unknown_h [h]
    is what unknown_days add.
    """
    gaps = _unknown_days(with_log(state, days), as_of).join(rates, on="unit_key", how="left", maintain_order="left")
    booked = _booked_in_gap(gaps, bookings, as_of)
    expected = pl.col("hours_per_day") * pl.col("unknown_days")
    variance = pl.col("day_variance") * pl.col("unknown_days") + pl.col("rate_variance") * pl.col("unknown_days") ** 2
    cautious = expected + CAUTIOUS_POINT * variance.sqrt()
    unknown = pl.when(pl.col("unknown_days") > 0).then(cautious).otherwise(0.0)
    drained = pl.col("last_drained_on").is_not_null()
    lost = ~drained & pl.col("first_row").is_null()
    return (
        gaps.join(booked, on="unit_key", how="left", maintain_order="left")
        .with_columns(
            pl.when(unknown.is_not_null())
            .then(pl.max_horizontal(unknown, pl.col("booked_h").fill_null(0.0)))
            .alias("unknown_h")
        )
        .with_columns(pl.when(~lost).then(pl.col("logged_h") + pl.col("unknown_h")).alias("hours_on_oil"))
        .with_columns(
            pl.when(drained & pl.col("first_row").is_not_null() & (pl.col("unknown_h") == 0) & ~pl.col("filled"))
            .then(pl.lit("logged"))
            .otherwise(pl.lit("estimated"))
            .alias("hours_on_oil_basis")
        )
        .select(HOURS_COLUMNS)
    )


def with_log(state: pl.DataFrame, days: pl.DataFrame) -> pl.DataFrame:
    """Each unit with what its own and its site's usage log holds."""
    units = state.select("unit_key", "site", "last_drained_on")
    rows = days.join(units, on="unit_key", how="inner")
    since = pl.col("last_drained_on").is_null() | (pl.col("date") >= pl.col("last_drained_on"))
    logged = (
        rows.sort("unit_key", "date")
        .group_by("unit_key")
        .agg(
            pl.col("date").min().alias("first_row"),
            pl.col("date").max().alias("last_row"),
            pl.col("date").diff().dt.total_days().max().alias("longest_gap"),
            pl.col("hours").filter(since).sum().alias("logged_h"),
            pl.col("hours").filter(pl.col("date") == pl.col("last_drained_on")).sum().alias("drain_day_h"),
            pl.col("filled").filter(since).any().alias("filled"),
        )
    )
    at_site = rows.group_by("site").agg(
        pl.col("date").min().alias("site_first"), pl.col("date").max().alias("site_last")
    )
    return (
        units.join(logged, on="unit_key", how="left", maintain_order="left")
        .join(at_site, on="site", how="left", maintain_order="left", nulls_equal=True)
        .with_columns(
            pl.col("logged_h", "drain_day_h").fill_null(0.0),
            pl.col("filled").fill_null(False),
            pl.col("longest_gap").fill_null(0),
        )
    )


def _unknown_days(logged: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """Days since the drain that no row covers and no credible rest explains: column unknown_days."""
    today = pl.lit(as_of)
    since = pl.coalesce("last_drained_on", "first_row")
    gap_days = (today - pl.max_horizontal(since, "last_row")).dt.total_days()
    late_start = (pl.col("first_row") - since).dt.total_days().clip(0)
    site_began = pl.col("site_first") <= since
    not_yet = (site_began & (late_start <= pl.col("longest_gap"))).fill_null(False)
    at_end = pl.when(credible_rest(as_of)).then(0).otherwise(gap_days)
    at_start = pl.when(not_yet | (late_start <= 1).fill_null(False)).then(0).otherwise(late_start)
    return logged.with_columns((at_end.fill_null(0) + at_start.fill_null(0)).alias("unknown_days"))


def credible_rest(as_of: date) -> pl.Expr:
    """Whether the gap since the unit's last row is rest, over the columns of `with_log`."""
    quiet = (pl.lit(as_of) - pl.col("last_row")).dt.total_days()
    site_goes_on = pl.col("site_last") >= pl.lit(as_of) - pl.duration(days=1)
    return ((site_goes_on & (quiet <= pl.col("longest_gap"))) | (quiet <= 1)).fill_null(False)


def _booked_in_gap(gaps: pl.DataFrame, bookings: pl.DataFrame | None, as_of: date) -> pl.DataFrame:
    """Hours that were booked after the unit's last row and drain and before `as_of`: unit_key, booked_h [h]."""
    if bookings is None:
        return pl.DataFrame(schema={"unit_key": pl.String, "booked_h": pl.Float64})
    known = bookings.filter(pl.col("date") < as_of).join(gaps, on="unit_key", how="inner")
    after = pl.max_horizontal(pl.coalesce("last_drained_on", "first_row"), "last_row")
    return (
        known.filter(pl.col("date") > after)
        .group_by("unit_key")
        .agg(pl.col("hours").fill_null(0.0).sum().alias("booked_h"))
    )
