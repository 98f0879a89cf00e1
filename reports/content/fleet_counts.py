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
    those due now and those without a date, because unknown is never safe.  more_now, more_undated, more_soon : those
    of them without a sign to inspect for; more_soon without those due now or without a date.  more_ahead : those of
    ahead without a sign.  more_booked : those of more_soon that are due before a booked event.
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
    more_now: int
    more_unknown: int
    more_undated: int
    more_soon: int
    more_ahead: int
    more_booked: int


@dataclass(frozen=True, slots=True)
class SiteCounts:
    """One site of a large fleet: its name, its units and how many of them are due, faster, turned."""

    site: str
    units: int
    now: int
    ahead: int
    faster: int
    turned: int


def fleet_counts(next_service: pl.DataFrame, as_of: date, *, inspect_now: pl.DataFrame) -> FleetCounts:
    """Counts over all rows of next_service; inspect_now : unit_id and site of the units with a sign."""
    act_by, now = pl.min_horizontal("due_on", "due_before"), _due_now(as_of)
    undated, more = ~now & act_by.is_null(), ~pl.col("_sign")
    unknown = pl.col("hours_on_oil").is_null() & (pl.col("set_by") != "oil_age").fill_null(True)
    more_soon = more & ~now & ~undated & _within(as_of, SOON_DAYS)
    counts = _with_sign(next_service, inspect_now).select(
        pl.len().alias("units"),
        now.sum().alias("now"),
        undated.sum().alias("undated"),
        _within(as_of, SOON_DAYS).sum().alias("soon"),
        _within(as_of, AHEAD_DAYS).sum().alias("ahead"),
        pl.col("hours_on_oil").is_null().sum().alias("unknown_hours"),
        ((pl.col("hours_on_oil_basis") == "estimated") & pl.col("hours_on_oil").is_not_null())
        .fill_null(False)
        .sum()
        .alias("estimated_hours"),
        (pl.col("standing") == FASTER).fill_null(False).sum().alias("faster"),
        (pl.col("standing") == TOO_FEW).fill_null(False).sum().alias("too_few"),
        (more & now).sum().alias("more_now"),
        (more & now & unknown).sum().alias("more_unknown"),
        (more & undated).sum().alias("more_undated"),
        more_soon.sum().alias("more_soon"),
        (more & _within(as_of, AHEAD_DAYS)).sum().alias("more_ahead"),
        (more_soon & (act_by == pl.col("due_before")).fill_null(False)).sum().alias("more_booked"),
    )
    return FleetCounts(**{name: int(value) for name, value in counts.row(0, named=True).items()})


def _with_sign(next_service: pl.DataFrame, inspect_now: pl.DataFrame) -> pl.DataFrame:
    """The rows with `_sign`; a site counts only where several units share an id."""
    signs = inspect_now.select("unit_id", "site", pl.lit(True).alias("_sign")).unique(["unit_id", "site"])
    joined = next_service.join(signs, on=["unit_id", "site"], how="left", nulls_equal=True, maintain_order="left")
    alone = pl.col("unit_id").is_in(inspect_now["unit_id"].implode()) & ~pl.col("unit_id").is_duplicated()
    return joined.with_columns(pl.col("_sign").fill_null(alone))


def site_counts(next_service: pl.DataFrame, as_of: date) -> tuple[SiteCounts, ...]:
    """Counts by site, the site with the most units due now first."""
    counts = (
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
    return tuple(SiteCounts(**cells) for cells in counts.iter_rows(named=True))


def _due_now(as_of: date) -> pl.Expr:
    by_hours = (pl.col("hours_left") <= 0).fill_null(False)
    return by_hours | (pl.min_horizontal("due_on", "due_before") <= pl.lit(as_of)).fill_null(False)


def _within(as_of: date, days: int) -> pl.Expr:
    act_by = pl.min_horizontal("due_on", "due_before")
    return _due_now(as_of) | act_by.is_null() | (act_by <= pl.lit(as_of + timedelta(days=days)))
