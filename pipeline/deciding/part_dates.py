"""When each part is due: by the maker's longest hours or days, or by its wear, on the riding that dates the oil."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import polars as pl

from draincurve.pipeline.deciding.booked_events import booked_events
from draincurve.pipeline.deciding.due_dates import due_dates
from draincurve.pipeline.deciding.next_service import UnitClocks
from draincurve.pipeline.deciding.part_hours import part_hours_at_fill
from draincurve.pipeline.deciding.riding_history import of_units
from draincurve.pipeline.deciding.visits import with_visits
from draincurve.pipeline.deciding.wear_result import UnitWear, WearResult
from draincurve.pipeline.reading import reset_days
from draincurve.schemas.parts_table import COLUMNS, checked_parts
from draincurve.schemas.quantities import known_quantity
from draincurve.schemas.settings import Settings

CLOCKS_APART, CLOCKS_APART_H = 0.1, 2.0
"""Hours of a part by its measurements and by the table of parts are the same if they differ by no more than these."""

_NO_READINGS = pl.DataFrame(
    schema={"unit_key": pl.String, "measured_on": pl.Date, "clock_h": pl.Float64, "now": pl.Boolean}
)


@dataclass(frozen=True, slots=True)
class PartTables:
    """What dates of parts rest on.

    lives : as `lives_of_parts` gives them; state, clocks : of the units in service, rows as each other's; drains :
    accepted rows up to the day; usage, bookings, wear : None where there are none
    """

    lives: pl.DataFrame
    state: pl.DataFrame
    clocks: UnitClocks
    drains: pl.DataFrame
    usage: pl.DataFrame | None
    bookings: pl.DataFrame | None
    wear: WearResult | None


def part_dates(tables: PartTables, next_service: pl.DataFrame, settings: Settings, as_of: date) -> pl.DataFrame:
    """The table of parts.csv, soonest first. Raises ContractError where it breaks its schema.

    Hours are those since the day of fitting, else since the last rebuild, else at least those in the log; a fill that
    had begun before counts whole. A part whose age is limited and not known is due now: unknown is never safe.
    """
    rows = _with_hours(tables)
    left = [pl.col("max_hours") - pl.col("hours_now"), pl.col("wear_left")]
    rows = rows.with_columns(pl.min_horizontal(left).alias("hours_left"))
    dated = pl.concat(_dated(tables, rows, as_of)).sort("_order")
    events = dated.with_columns(_set_by(as_of).alias("set_by")).with_columns(_reason().alias("why"))
    visited = with_visits(events, next_service, settings.visits.near_days)
    ordered = visited.sort("due_on", "unit_id", "site", "part", nulls_last=True, maintain_order=True)
    return checked_parts(ordered.select(COLUMNS), as_of)


def _with_hours(tables: PartTables) -> pl.DataFrame:
    """The parts with hours_now, hours_from, fitted_on, wear_left, and _row and _part_number of each in its unit."""
    state, drains = tables.state, tables.drains
    no_rebuilds = pl.DataFrame(schema={"unit_key": pl.String, "rebuilt_on": pl.Date})
    rebuilt = reset_days(no_rebuilds, drains, with_new_parts=False).group_by("unit_key").agg(pl.col("reset_on").max())
    on_oil = pl.Series("on_oil", tables.clocks.on_oil).fill_nan(None)
    units = state.select("unit_key", "last_drained_on").with_columns(on_oil).with_row_index("_row")
    lives = (
        tables.lives.with_row_index("_order")
        .join(units, on="unit_key", how="left", maintain_order="left")
        .join(rebuilt, on="unit_key", how="left", maintain_order="left")
        .with_columns(
            pl.when(pl.col("fitted_on").is_not_null()).then(pl.lit("day of fitting"))
            .when(pl.col("reset_on").is_not_null()).then(pl.lit("last rebuild"))
            .otherwise(pl.lit("at least the log's")).alias("hours_from"),
            pl.coalesce("fitted_on", "reset_on").alias("fitted_on"),
            pl.int_range(pl.len()).over("unit_key").alias("_part_number"),
        )
    )  # fmt: skip
    pieces = []
    for _, parts in lives.group_by("_part_number", maintain_order=True):
        resets = parts.select("unit_key", pl.col("fitted_on").alias("reset_on")).drop_nulls()
        begun = parts.select("unit_key", "last_drained_on")
        hours = part_hours_at_fill(begun, _NO_READINGS, resets, drains, tables.usage)["clock_now"]
        # A part fitted while the oil that runs now was in has not run more than the oil.
        pieces.append(
            parts.with_columns((hours + parts["on_oil"] + parts["fitted_at_h"].fill_null(0.0)).alias("hours_now"))
        )
    return _with_wear(pl.concat(pieces) if pieces else lives.with_columns(hours_now=pl.lit(None, pl.Float64)), tables)


def _with_wear(lives: pl.DataFrame, tables: PartTables) -> pl.DataFrame:
    """Hours left until the wear point of the quantities that show each part's wear, and why it is there.

    They are negative once the wear point has been passed, by the hours run since then. Where the measurements and the
    table of parts disagree on the hours of a part, the longer hours count, and the reason asks which are right.
    """
    wear_by_kind: dict[tuple[str, str], list[UnitWear]] = {}
    for quantity in () if tables.wear is None else tables.wear.quantities:
        for unit in quantity.units:
            if unit.allowed_h is not None:
                wear_by_kind.setdefault((unit.unit_key, quantity.name), []).append(unit)
    left: list[tuple[float | None, str | None]] = []
    columns = lives.select("unit_key", "quantities", "on_oil", "hours_now")
    for key, quantities, on_oil, hours_now in columns.iter_rows():
        names = [(key, known_quantity(name) or name) for name in quantities or ()]
        until = [hours_until_wear(unit, on_oil, hours_now) for name in names for unit in wear_by_kind.get(name, ())]
        left.append(min(until, default=(None, None)) if on_oil is not None else (None, None))
    return lives.hstack(pl.DataFrame(left, schema={"wear_left": pl.Float64, "wear_why": pl.String}, orient="row"))


def hours_until_wear(unit: UnitWear, on_oil: float, hours_now: float | None) -> tuple[float, str]:
    """Hours until a unit's wear point, and why it is there; on_oil : hours on the oil that runs now."""
    assert unit.allowed_h is not None
    left = unit.allowed_h - on_oil
    asked = ""
    if unit.wear_hours is not None and unit.clock_now:
        measured = unit.clock_now + on_oil
        left = min(left, unit.wear_hours - measured)
        if hours_now is not None and abs(hours_now - measured) > max(CLOCKS_APART_H, CLOCKS_APART * measured):
            left = min(left, unit.wear_hours - hours_now)
            asked = f"; its measurements make it {measured:.1f} h, the table of parts {hours_now:.1f} h: which?"
    return left, f"{unit.why_run if left <= 0 else unit.why}{asked}"


def _dated(tables: PartTables, rows: pl.DataFrame, as_of: date) -> list[pl.DataFrame]:
    """The parts with their dates, one part of each unit at a time, since a unit's events are used up by each."""
    events = booked_events(tables.bookings, tables.clocks.days, as_of)
    pieces = [rows.clear().with_columns(due_on=None, due_on_early=None, due_on_late=None, due_before=None)]
    columns = ("due_on", "due_on_early", "due_on_late", "due_before")
    pieces = [piece.cast(dict.fromkeys(columns, pl.Date)) for piece in pieces]
    for _, parts in rows.group_by("_part_number", maintain_order=True):
        asked = parts.select(
            "unit_key",
            (pl.col("hours_left") + pl.col("on_oil")).alias("interval_h"),
            pl.col("on_oil").alias("hours_on_oil"),
            "hours_left",
            pl.col("fitted_on").alias("last_drained_on"),
            pl.when(pl.col("fitted_on").is_not_null()).then("max_days").alias("oil_days"),
        )
        dates = due_dates(asked, events, of_units(tables.clocks.riding, parts["_row"].to_numpy()), as_of)
        unknown_age = parts["fitted_on"].is_null() & parts["max_days"].is_not_null()
        unknown_hours = parts["hours_now"].is_null() & parts["max_hours"].is_not_null()
        nothing = pl.lit(parts["max_hours"].is_null() & parts["max_days"].is_null() & parts["wear_left"].is_null())
        now = pl.lit(unknown_age | unknown_hours)
        kept = dates.select(
            pl.when(now).then(pl.lit(as_of)).when(nothing).then(None).otherwise(name).alias(name)
            for name in columns[:3]
        ).with_columns(pl.when(now | nothing).then(None).otherwise(dates["due_before"]).alias("due_before"))
        pieces.append(parts.hstack(kept))
    return pieces


def _set_by(as_of: date) -> pl.Expr:
    """What comes first: the longest time, wear, or the longest hours."""
    oldest = pl.col("fitted_on") + pl.duration(days=pl.col("max_days").floor().cast(pl.Int64))
    unknown_age = pl.col("fitted_on").is_null() & pl.col("max_days").is_not_null()
    by_days = (pl.max_horizontal(oldest, pl.lit(as_of)) <= pl.col("due_on")).fill_null(False) | unknown_age
    by_days = by_days & pl.col("max_days").is_not_null() & ~(pl.col("hours_left") <= 0).fill_null(False)
    worn = (pl.col("wear_left") <= pl.col("hours_left")).fill_null(False)
    return (
        pl.when(by_days).then(pl.lit("maker's days")).when(worn).then(pl.lit("wear"))
        .when(pl.col("max_hours").is_not_null()).then(pl.lit("maker's hours"))
    )  # fmt: skip


def _reason() -> pl.Expr:
    hours = pl.col("hours_now").round(1)
    at_least = pl.when(pl.col("hours_from") == "at least the log's").then(pl.lit("at least ")).otherwise(pl.lit(""))
    unknown = pl.col("fitted_on").is_null()
    return (
        pl.when((pl.col("set_by") == "maker's days") & unknown)
        .then(pl.lit("its day of fitting is not known and its maker limits its age: find out, or replace it"))
        .when(pl.col("set_by") == "maker's days")
        .then(pl.format("the maker's {} days since {} end then", pl.col("max_days").round(0), "fitted_on"))
        .when(pl.col("set_by") == "wear")
        .then("wear_why")
        .when(pl.col("hours_now").is_null() & pl.col("max_hours").is_not_null())
        .then(pl.lit("its hours are not known, and its maker limits them: find out, or replace it"))
        .when(pl.col("set_by") == "maker's hours")
        .then(pl.format("{}{} h of the maker's {} h are run", at_least, hours, pl.col("max_hours").round(1)))
        .otherwise(pl.lit("nothing limits it yet: its wear was not measured"))
    )
