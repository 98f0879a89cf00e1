"""next_service: every unit's interval, hours, date and standing, put together in the contract's columns."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.booked_events import booked_events
from draincurve.pipeline.deciding.caps import data_range_limit, shorter_limit, wear_limit
from draincurve.pipeline.deciding.due_dates import DueFrom, due_dates
from draincurve.pipeline.deciding.hours_on_oil import hours_on_oil
from draincurve.pipeline.deciding.reasons import reasons
from draincurve.pipeline.deciding.riding_history import RidingHistory, riding_history
from draincurve.pipeline.deciding.riding_rates import known_usage, riding_rates
from draincurve.pipeline.deciding.unit_scoring import DecidedUnits
from draincurve.pipeline.describing import drains_until, longest_fill
from draincurve.schemas.array_types import Floats
from draincurve.schemas.next_service_table import TOO_FEW, NextService, checked_next_service
from draincurve.schemas.output_table import column_values
from draincurve.schemas.settings import Settings

REASON_COLUMNS = (
    "unit_id",
    "site",
    "machine",
    "position",
    "why",
    "cost_interval_h",
    "cost_why",
    "close_channels",
    "past_plausible_h",
)
CLOSE_SHARE = 0.8
"""A channel with this share of the largest channel's risk, or more, is close to it."""
OF_HOURS_ON_OIL = ("hours_on_oil", "hours_left", "risk_now")
STANDING_COLUMNS = ("hours_ratio", "hours_ratio_low", "hours_ratio_high", "p_faster", "standing", "turned")


@dataclass(frozen=True, slots=True)
class UnitClocks:
    """The oil of each unit now, rows as those of the state.

    hours : as `hours_on_oil` gives them; rates : as `riding_rates`; days : as `known_usage`; riding : as
    `riding_history`; on_oil : (n,) [h], NaN where not known; caps : name -> (n,) [h], infinite where the cap does
    not apply; more : clocks and bookings with rides that may be a unit's, None where there are none.
    """

    hours: pl.DataFrame
    rates: pl.DataFrame
    days: pl.DataFrame
    riding: RidingHistory
    on_oil: Floats
    caps: Mapping[str, Floats]
    more: tuple[UnitClocks, pl.DataFrame | None] | None = None


def unit_clocks(
    state: pl.DataFrame,
    drains: pl.DataFrame,
    usage: pl.DataFrame | None,
    bookings: pl.DataFrame | None,
    settings: Settings,
    as_of: date,
) -> UnitClocks:
    """Hours on the oil, riding and caps of every unit.

    state : as `fleet_state` gives it, with the columns of `with_wear` where anything was measured
    drains, usage, bookings : accepted rows; the last two may be None.
    """
    known = drains_until(drains, as_of)
    days = known_usage(usage, as_of)
    rates = riding_rates(state, known, days)
    hours = hours_on_oil(state, rates, days, bookings, as_of)
    on_oil = hours["hours_on_oil"].cast(pl.Float64).fill_null(float("nan")).to_numpy()
    riding = riding_history(state, days, rates, as_of, seed=settings.seed)
    return UnitClocks(hours, rates, days, riding, on_oil, _caps(state, known, settings))


def with_more_rides(clocks: UnitClocks, more: UnitClocks, bookings: pl.DataFrame | None) -> UnitClocks:
    """The clocks with the hours on the oil of each unit that has more with rides that may be its own.

    more, bookings : with these rides. The date is then the earlier of both.
    """
    longer = pl.Series(more.on_oil > clocks.on_oil)
    hours, rates = (
        first.select(pl.when(longer).then(pl.lit(second[name])).otherwise(name).alias(name) for name in first.columns)
        for first, second in ((clocks.hours, more.hours), (clocks.rates, more.rates))
    )
    on_oil = np.where(longer.to_numpy(), more.on_oil, clocks.on_oil)
    return replace(clocks, hours=hours, rates=rates, on_oil=on_oil, more=(more, bookings))


def next_service_table(
    state: pl.DataFrame,
    clocks: UnitClocks,
    decided_units: DecidedUnits,
    standings: pl.DataFrame,
    bookings: pl.DataFrame | None,
    settings: Settings,
    as_of: date,
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The table of next_service.csv, soonest first, and why, as REASON_COLUMNS.

    state : as given to `unit_clocks`; decided_units : rows as those of `state`
    standings : unit_key and STANDING_COLUMNS, a unit may be missing; bookings : accepted rows, or None
    Units without a date come first: unknown is never safe. Raises ContractError where the result breaks its schema.
    """
    units = (
        state.hstack(decided_units.intervals.table)
        .hstack(clocks.hours.drop("unit_key"))
        .hstack(clocks.rates.drop("unit_key"))
        .with_columns(
            (pl.col("interval_h") - pl.col("hours_on_oil")).alias("hours_left"),
            _nullable("oil_days", shorter_limit(state["max_oil_days"], settings.caps.max_oil_days)),
        )
    )
    dated = due_dates(units, booked_events(bookings, clocks.days, as_of), clocks.riding, as_of)
    if clocks.more is not None:
        more, booked = clocks.more
        others = due_dates(units, booked_events(booked, more.days, as_of), more.riding, as_of)
        first = pl.lit((others["due_on"] < dated["due_on"]).fill_null(False))
        dated = dated.select(pl.when(first).then(others[name]).otherwise(name).alias(name) for name in dated.columns)
    decided = _decided(units.hstack(dated.drop("unit_key")), decided_units, standings).with_columns(
        _past_plausible(clocks.caps["data_range"]).alias("past_plausible_h")
    )
    order = decided.sort("due_on", "unit_id", "site", nulls_last=False, maintain_order=True)
    why = order.with_columns(pl.Series("why", reasons(order, settings), dtype=pl.String)).select(REASON_COLUMNS)
    return checked_next_service(order.select(column_values(NextService)), settings, as_of), why


def with_plausible_hours(next_service: pl.DataFrame, reasons: pl.DataFrame) -> pl.DataFrame:
    """The table without hours on the oil that are estimated past any fill in the log, and what follows from them.

    reasons : rows as those of the table. Such a unit is due, and how long its oil has run is not known.
    """
    plausible = reasons["past_plausible_h"].is_null()
    return next_service.with_columns(pl.when(plausible).then(name).alias(name) for name in OF_HOURS_ON_OIL)


def _caps(state: pl.DataFrame, drains: pl.DataFrame, settings: Settings) -> dict[str, Floats]:
    """Caps in hours; the oil's age is a cap on the date and is not among them."""
    return {
        "maker_limit": shorter_limit(state["max_interval_h"], settings.caps.max_interval_h),
        "wear": wear_limit(state),
        "data_range": data_range_limit(state["spring_type"], longest_fill(drains), settings.data_range_factor),
    }


def _decided(
    units: pl.DataFrame,
    decided_units: DecidedUnits,
    standings: pl.DataFrame,
) -> pl.DataFrame:
    """Units with their risk now, what set hours and date, costs and standing."""
    intervals = decided_units.intervals
    aged = pl.col("due_from") == DueFrom.OIL_AGE
    standing = standings.select("unit_key", *STANDING_COLUMNS)
    return (
        units.with_columns(
            _nullable("risk_now", decided_units.risk_now),
            _nullable("cost_interval_h", intervals.cost_h),
            pl.Series("cost_binds", intervals.cost_binds),
            pl.Series("cost_why", [str(why) for why in intervals.cost_why], dtype=pl.String),
            pl.col("set_by").alias("hours_set_by"),
            pl.Series("risk_by_channel", _risk_words(intervals.channel_risks, units.height), dtype=pl.String),
            pl.Series("close_channels", _close_channels(intervals.channel_risks, units.height), dtype=pl.String),
        )
        .with_columns(pl.when(aged).then(pl.lit("oil_age")).otherwise("set_by").alias("set_by"))
        .join(standing, on="unit_key", how="left", maintain_order="left")
        .with_columns(pl.col("standing").fill_null(TOO_FEW))
    )


def _past_plausible(longest: Floats) -> pl.Expr:
    """The longest fill that is taken for possible [h], where hours on the oil are estimated past it; else null.

    longest : (n,) the cap by the longest fill of each unit's spring [h]. An estimate past the largest of them says
    that the log is not complete, not how long the oil has run.
    """
    known = longest[np.isfinite(longest)]
    most = float(known.max()) if known.size else float("inf")
    past = (pl.col("hours_on_oil_basis") == "estimated") & (pl.col("hours_on_oil") > most)
    return pl.when(past).then(pl.lit(most))


def _close_channels(risks: Mapping[str, Floats], rows: int) -> list[str]:
    """Channels whose risks at the oil's hours are close to the largest, joined by and; empty where only one is."""
    if len(risks) < 2:
        return [""] * rows
    joined = []
    for row in zip(*(risk.tolist() for risk in risks.values()), strict=True):
        close = [name for name, risk in zip(risks, row, strict=True) if risk >= CLOSE_SHARE * max(row)]
        joined.append(" and ".join(close) if len(close) > 1 else "")
    return joined


def _risk_words(risks: Mapping[str, Floats], rows: int) -> list[str]:
    """Each channel's own risk at the oil's hours, the largest first; empty where there is one channel."""
    if len(risks) < 2:
        return [""] * rows
    return [
        ", ".join(
            f"{name} {100 * risk:.2g} %"
            for name, risk in sorted(zip(risks, row, strict=True), key=lambda pair: -pair[1])
        )
        for row in zip(*(risk.tolist() for risk in risks.values()), strict=True)
    ]


def _nullable(name: str, values: Floats) -> pl.Series:
    """A column with null for values that are not finite."""
    return pl.Series(name, np.where(np.isfinite(values), values, np.nan), dtype=pl.Float64, nan_to_null=True)
