"""How many units are due, due soon or without a date, over the whole fleet, however few of them a page shows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import polars as pl

from draincurve.schemas.next_service_table import FASTER, TOO_FEW

SOON_DAYS = 7
AHEAD_DAYS = 14


@dataclass(frozen=True, slots=True)
class FleetCounts:
    """Numbers of units in service.

    now : due now.  undated : no date, and not due now.  soon, ahead : due within SOON_DAYS and AHEAD_DAYS, including
    those due now and those without a date, because unknown is never safe.
    """

    units: int
    now: int
    undated: int
    soon: int
    ahead: int
    unknown_hours: int
    estimated_hours: int
    faster: int
    too_few: int


@dataclass(frozen=True, slots=True)
class SiteCounts:
    """One site of a large fleet: its name, its units and how many of them are due, faster, turned."""

    site: str
    units: int
    now: int
    ahead: int
    faster: int
    turned: int


def fleet_counts(next_service: pl.DataFrame, as_of: date) -> FleetCounts:
    """Counts over all rows of next_service."""
    act_by, now = pl.min_horizontal("due_on", "due_before"), _due_now(as_of)
    found = next_service.select(
        pl.len().alias("units"),
        now.sum().alias("now"),
        (~now & act_by.is_null()).sum().alias("undated"),
        _within(as_of, SOON_DAYS).sum().alias("soon"),
        _within(as_of, AHEAD_DAYS).sum().alias("ahead"),
        pl.col("hours_on_oil").is_null().sum().alias("unknown_hours"),
        ((pl.col("hours_on_oil_basis") == "estimated") & pl.col("hours_on_oil").is_not_null())
        .fill_null(False)
        .sum()
        .alias("estimated_hours"),
        (pl.col("standing") == FASTER).fill_null(False).sum().alias("faster"),
        (pl.col("standing") == TOO_FEW).fill_null(False).sum().alias("too_few"),
    )
    return FleetCounts(**{name: int(value) for name, value in found.row(0, named=True).items()})


def site_counts(next_service: pl.DataFrame, as_of: date) -> tuple[SiteCounts, ...]:
    """Counts by site, the site with the most units due now first."""
    found = (
        next_service.group_by(pl.col("site").fill_null("site not known"))
        .agg(
            pl.len().alias("units"),
            _due_now(as_of).sum().alias("now"),
            _within(as_of, AHEAD_DAYS).sum().alias("ahead"),
            (pl.col("standing") == FASTER).sum().alias("faster"),
            pl.col("turned").fill_null(False).sum().alias("turned"),
        )
        .sort("now", "units", "site", descending=[True, True, False])
    )
    return tuple(SiteCounts(**cells) for cells in found.iter_rows(named=True))


def _due_now(as_of: date) -> pl.Expr:
    by_hours = (pl.col("hours_left") <= 0).fill_null(False)
    return by_hours | (pl.min_horizontal("due_on", "due_before") <= pl.lit(as_of)).fill_null(False)


def _within(as_of: date, days: int) -> pl.Expr:
    act_by = pl.min_horizontal("due_on", "due_before")
    return _due_now(as_of) | act_by.is_null() | (act_by <= pl.lit(as_of + timedelta(days=days)))
