"""Whole weeks of riding from the usage log, from which each unit's coming weeks are drawn.

Weeks end on the day before `as_of`, so that a week drawn for the future keeps its weekdays. A unit has the whole
weeks from its first row on; weeks of a gap that is no credible rest are unknown and left out. Rows are sorted by
site, so that a site's weeks are together: a unit borrows from them.
"""

from __future__ import annotations

from datetime import date
from hashlib import blake2b
from typing import NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

from draincurve.pipeline.deciding.hours_on_oil import credible_rest, with_log
from draincurve.pipeline.deciding.riding_season import CURVES, WEEKS_OF_YEAR, site_seasonal_curves
from draincurve.schemas.array_types import Booleans, Floats, Integers


class RidingHistory(NamedTuple):
    """Weeks from which riding is drawn; U units, R weeks, V sites and, last, the fleet.

    key (U,) : random number of each unit; start, end (U,) : its own weeks among the rows; pool_start, pool_end (U,) :
    the weeks it may borrow; borrowed_weeks (U,) : own weeks that count as much as the site's; borrowed_scale (U,) :
    factor of borrowed hours; rate, ride_day_hours (U,) [h/day, h] : riding where there is no week at all; log_rate_sd
    (U,) : sd of the log rate where no week is the unit's own; first_day (U,) : days from as_of to the first that the
    log leaves open; hours (R, 7) [h]; age (R,) [weeks]; site (U,) : index of the site; seen, ahead (V + 1, CURVES,
    WEEKS_OF_YEAR) : log seasonal curves; lowest, highest (V + 1, CURVES) : their range over the weeks that the log
    holds; seasonal (V + 1,) : whether a site has a season.
    """

    key: NDArray[np.uint64]
    start: Integers
    end: Integers
    pool_start: Integers
    pool_end: Integers
    borrowed_weeks: Floats
    borrowed_scale: Floats
    rate: Floats
    ride_day_hours: Floats
    log_rate_sd: Floats
    first_day: Integers
    site: Integers
    hours: NDArray[np.float32]
    age: Integers
    seen: Floats
    ahead: Floats
    lowest: Floats
    highest: Floats
    seasonal: Booleans


OF_UNITS = RidingHistory._fields[: RidingHistory._fields.index("hours")]


def riding_history(
    state: pl.DataFrame, days: pl.DataFrame, rates: pl.DataFrame, as_of: date, *, seed: int
) -> RidingHistory:
    """The history of the units of `state`, in its order.

    state : unit_key, site, machine, last_drained_on; days : as `known_usage` gives it; rates : as `riding_rates`
    gives it
    """
    spans = _spans(state, days, as_of)
    names, site = np.unique(state["site"].fill_null("").to_numpy().astype(str), return_inverse=True)
    first_age, count = spans["first_age"].to_numpy(), spans["weeks"].to_numpy()
    order = np.argsort(site, kind="stable")
    start = np.empty(site.size, dtype=np.int64)
    start[order] = np.cumsum(count[order]) - count[order]
    unit_of_row = np.repeat(order, count[order])
    age = np.arange(unit_of_row.size) - start[unit_of_row] + first_age[unit_of_row]
    hours = _weekly_hours(state, days, as_of, start=start, first_age=first_age, count=count)
    seen, ahead, covered = _seasonal_curves(site[unit_of_row], age, hours=hours, names=names, seed=seed)
    weeks_at = np.bincount(site, count, names.size).astype(np.int64)
    ends_at = np.cumsum(weeks_at)
    has_weeks = weeks_at[site] > 0
    pool_start = np.where(has_weeks, (ends_at - weeks_at)[site], 0)
    pool_end = np.where(has_weeks, ends_at[site], unit_of_row.size)
    until = np.concatenate([[0.0], np.cumsum(hours.sum(axis=1, dtype=np.float64))])
    pool_rate = (until[pool_end] - until[pool_start]) / np.maximum(7.0 * (pool_end - pool_start), 1.0)
    rate, variance, by_day, borrowed = (
        rates[name].fill_null(0.0).to_numpy(writable=True)
        for name in ("hours_per_day", "rate_variance", "day_variance", "borrowed_days")
    )
    known = np.where(rate > 0, rate, 1.0)
    machines = state.select(
        pl.concat_str(pl.lit("machine"), "machine", pl.col("site").fill_null(""), separator=" ")
    ).to_series()
    ridden = count > 0
    return RidingHistory(
        # Units of one machine are ridden together: other numbers would date the one with more hours left sooner.
        key=np.array([_key(name, seed) for name in machines.fill_null(state["unit_key"])], dtype=np.uint64),
        start=start,
        end=start + count,
        pool_start=pool_start,
        pool_end=np.where(pool_rate > 0, pool_end, pool_start),
        borrowed_weeks=borrowed / 7.0,
        borrowed_scale=np.where(ridden, 1.0, rate / np.where(pool_rate > 0, pool_rate, 1.0)),
        rate=rate,
        ride_day_hours=by_day / known,
        log_rate_sd=np.where(ridden, 0.0, np.sqrt(np.log1p(variance / known**2))),
        first_day=spans["first_day"].to_numpy(writable=True),
        site=np.where(has_weeks, site, names.size),
        hours=hours,
        age=age,
        seen=seen,
        ahead=ahead,
        lowest=np.where(covered, seen, np.inf).min(axis=2),
        highest=np.where(covered, seen, -np.inf).max(axis=2),
        seasonal=(seen != 0).any(axis=(1, 2)),
    )


def of_units(riding: RidingHistory, rows: Integers) -> RidingHistory:
    """The history of some units, with the same weeks to borrow from."""
    return riding._replace(**{name: getattr(riding, name)[rows] for name in OF_UNITS})


def _spans(state: pl.DataFrame, days: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """Whole weeks known of each unit, rows as those of `state`: first_age, weeks; and first_day."""
    today = pl.lit(as_of)
    quiet = (today - pl.col("last_row")).dt.total_days()
    rested = credible_rest(as_of)
    whole = ((today - pl.col("first_row")).dt.total_days() // 7).clip(0, WEEKS_OF_YEAR).fill_null(0)
    unknown_weeks = pl.when(rested).then(0).otherwise(((quiet - 1).clip(0) + 6) // 7).fill_null(0)
    open_today = (rested & (pl.col("site_last") == today - pl.duration(days=1))).fill_null(False)
    return with_log(state, days).select(
        unknown_weeks.cast(pl.Int64).alias("first_age"),
        (whole - unknown_weeks).clip(0).cast(pl.Int64).alias("weeks"),
        pl.when(open_today).then(0).otherwise(1).cast(pl.Int64).alias("first_day"),
    )


def _weekly_hours(
    state: pl.DataFrame, days: pl.DataFrame, as_of: date, *, start: Integers, first_age: Integers, count: Integers
) -> NDArray[np.float32]:
    """Hours by week and weekday, (R, 7) [h]."""
    rows = state.select("unit_key").with_row_index("unit")
    logged = days.filter(pl.col("date") < as_of).join(rows, on="unit_key", how="inner")
    unit = logged["unit"].to_numpy().astype(np.int64)
    back = logged.select((pl.lit(as_of) - pl.col("date")).dt.total_days()).to_series().to_numpy() - 1
    week = back // 7 - first_age[unit]
    kept = (week >= 0) & (week < count[unit])
    hours = np.zeros((int(count.sum()), 7), dtype=np.float32)
    np.add.at(hours, (start[unit[kept]] + week[kept], 6 - back[kept] % 7), logged["hours"].to_numpy()[kept])
    return hours


def _seasonal_curves(
    site: Integers, age: Integers, *, hours: NDArray[np.float32], names: NDArray[np.str_], seed: int
) -> tuple[Floats, Floats, Booleans]:
    """Seasonal curves of all sites and, last, the fleet, (V + 1, CURVES, WEEKS_OF_YEAR) each; and the weeks seen."""
    cells = (names.size, WEEKS_OF_YEAR)
    cell = site * WEEKS_OF_YEAR + age
    size = names.size * WEEKS_OF_YEAR
    ridden = np.bincount(cell, hours.sum(axis=1, dtype=np.float64), size).reshape(cells)
    weeks = np.bincount(cell, minlength=size).astype(np.float64).reshape(cells)
    seen = np.zeros((names.size + 1, CURVES, WEEKS_OF_YEAR))
    ahead = np.zeros_like(seen)
    for index in range(names.size + 1):
        which = slice(None) if index == names.size else slice(index, index + 1)
        name = "" if index == names.size else str(names[index])
        rng = np.random.default_rng([seed, *f"course of {name}".encode()])
        seen[index], ahead[index] = site_seasonal_curves(ridden[which].sum(axis=0), weeks[which].sum(axis=0), rng=rng)
    covered = np.vstack([weeks, weeks.sum(axis=0)]) > 0
    return seen, ahead, covered[:, None, :]


def _key(name: str, seed: int) -> int:
    """A random number of the machine, or of a unit of unknown machine, that depends on no other."""
    return int.from_bytes(blake2b(f"{seed} {name}".encode(), digest_size=8).digest(), "little")
