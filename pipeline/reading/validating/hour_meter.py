"""Hours on the oil from the hour meter: resets, gaps, and readings that contradict the hours typed."""

from __future__ import annotations

from datetime import date

import numpy as np
import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import OWN_COLUMNS, WorkingTable, line_label
from draincurve.pipeline.reading.validating.unit_order import unit_and_day
from draincurve.schemas.columns import EARLIEST_YEAR, column_of
from draincurve.schemas.service_kinds import is_oil_change

OFF_METER_HOURS, OFF_METER_SHARE = 1.0, 0.10
"""Typed hours that differ from the meter by more than both are asked about: many round to the hour."""
MOST_ORPHANS = 100
"""With more drains that name no unit than this, no difference of the meter can be trusted."""


def with_meter_hours(working: WorkingTable, as_of: date) -> WorkingTable:
    """Drains with `oil_hours` [h] filled in from the meter where absent, with `hours_basis`, and where both differ.

    Where typed hours differ from the meter's, off_meter_h [h] is what it shows since the drain on line meter_since.

    The hours on a fill are the reading minus the reading at the drain before it. They stay unknown (null) for a
    unit's first reading, after a reset, where the drain before has no reading, and where a drain without a usable
    date or unit may have come in between: hours that are too long would make the oil look better than it is. For the
    same reason, rows that are held back count as drains here. A top-up is a reading but not a drain.
    """
    drains = _meter_steps(working, as_of)
    steps = working.parsed.select("_row").join(drains, on="_row", how="left", maintain_order="left").drop("_row")
    parsed = working.parsed.with_columns(steps.get_columns())
    cell_empty = _empty_cell(working, "oil_hours")
    wanted = cell_empty & is_oil_change()
    highest = column_of("drains", "oil_hours").high or 0.0
    usable = pl.col("_step").is_between(0, highest, closed="right").fill_null(False)
    basis = (
        pl.when(pl.col("oil_hours").is_not_null())
        .then(pl.lit("typed"))
        .when(wanted & usable)
        .then(pl.lit("meter"))
        .otherwise(pl.lit("unknown"))
    )
    hours = pl.when(wanted & usable).then(pl.col("_step")).otherwise(pl.col("oil_hours"))
    apart = (pl.col("oil_hours") - pl.col("_step")).abs()
    off = (apart > OFF_METER_HOURS) & (apart > OFF_METER_SHARE * pl.col("_step"))
    filled = parsed.with_columns(
        hours.alias("oil_hours"),
        basis.alias("hours_basis"),
        pl.when(off).then("_step").alias("off_meter_h"),
        pl.when(off).then("_before").alias("meter_since"),
    )
    remarks = _remarks(working, parsed, wanted=wanted, highest=highest)
    return working.with_parsed(
        filled.drop([name for name in filled.columns if name.startswith("_") and name not in OWN_COLUMNS])
    ).with_findings(*remarks)


def _meter_steps(working: WorkingTable, as_of: date) -> pl.DataFrame:
    """For each dated drain: `_step` (hours since the drain before), `_why` (it is unknown), `_before` (its line).

    Also `_reset_from`, the reading before one where the meter runs backwards.
    """
    readings = _dated(working, as_of)
    # Rows of a unit follow each other, so that a comparison with the row before does for a window over each unit.
    read_of = pl.when(pl.col("_meter").is_not_null()).then("unit_key").forward_fill().shift(1)
    known = pl.when(read_of == pl.col("unit_key")).then(pl.col("_meter").forward_fill().shift(1))
    readings = readings.with_columns(known.alias("_known_before"))
    readings = readings.with_columns((pl.col("_meter") < pl.col("_known_before")).fill_null(False).alias("_is_reset"))
    readings = readings.with_columns(pl.col("_is_reset").cum_sum().alias("_resets"))
    resets = readings.filter("_is_reset").select("_row", pl.col("_known_before").alias("_reset_from"))
    same_unit = pl.col("unit_key") == pl.col("unit_key").shift(1)
    drains = readings.filter(pl.col("_is_drain")).with_columns(
        pl.when(same_unit).then(pl.col("_meter").shift(1)).alias("_meter_before"),
        pl.when(same_unit).then(pl.col("_resets").shift(1)).alias("_resets_before"),
        pl.when(same_unit).then(pl.col("_label").shift(1)).alias("_before"),
        pl.when(same_unit).then(pl.col("drained_on").shift(1)).alias("_day_before"),
    )
    drains = _with_gaps_by_unit(drains, _undated(working, as_of))
    drains = _with_gaps_by_orphans(drains, working, as_of=as_of)
    step = pl.col("_meter") - pl.col("_meter_before")
    why = (
        pl.when(pl.col("_meter").is_null())
        .then(None)
        .when(pl.col("_before").is_null())
        .then(pl.lit("first reading of this unit's meter"))
        .when(pl.col("_meter_before").is_null())
        .then(pl.format("the drain before, on line {}, has no meter reading", "_before"))
        .when(pl.col("_resets") != pl.col("_resets_before"))
        .then(pl.lit("the meter was reset on this fill"))
        .when(pl.col("_gap"))
        .then(pl.lit("a drain that may have come in between has no usable date or unit"))
    )
    drains = drains.with_columns(step.alias("_step"), why.alias("_why"))
    drains = drains.with_columns(pl.when(pl.col("_why").is_null()).then(pl.col("_step")).alias("_step"))
    columns = drains.select("_row", "_step", "_why", "_before")
    return columns.join(resets, on="_row", how="full", coalesce=True)


def _usable_date(as_of: date) -> pl.Expr:
    return (pl.col("drained_on").dt.year() >= EARLIEST_YEAR) & (pl.col("drained_on") <= as_of)


def _with_meter(working: WorkingTable, rows: pl.Expr) -> pl.DataFrame:
    """Of these rows those with a unit; `_meter` is the reading, null where it is negative or the row is uneven."""
    trusted = (pl.col("meter_hours") >= 0) & ~working.is_uneven
    meter = pl.when(trusted).then(pl.col("meter_hours"))
    return working.parsed_where(
        pl.col("unit_key").is_not_null() & rows,
        "_row",
        line_label().alias("_label"),
        "unit_key",
        "drained_on",
        meter.alias("_meter"),
        is_oil_change().alias("_is_drain"),
    )


def _dated(working: WorkingTable, as_of: date) -> pl.DataFrame:
    """Readings with a usable date, by unit and date; on one day the lower reading comes first."""
    rows = _with_meter(working, _usable_date(as_of).fill_null(False))
    rows = rows.with_columns(unit_and_day(rows, "drained_on").alias("_order")).sort("_order", maintain_order=True)
    day = pl.col("_order")
    same_day = rows.select(((day == day.shift(1)) | (day == day.shift(-1))).fill_null(False)).to_series().arg_true()
    few = rows[same_day].with_columns(same_day.alias("_position"))
    order = np.arange(rows.height)
    order[same_day] = few.sort("_order", "_meter", "_row", nulls_last=True)["_position"]
    return rows[order].drop("_order") if few.height else rows.drop("_order")


def _undated(working: WorkingTable, as_of: date) -> pl.DataFrame:
    """Drains of a known unit without a usable date: columns unit_key, _reading (null where unknown).

    A drain whose unit_id is shared by several units, without a site, counts for each of these.
    """
    undated = _with_meter(working, ~_usable_date(as_of).fill_null(False) & is_oil_change())
    ambiguous = working.parsed_where(pl.col("unit_key").is_null() & is_oil_change(), "unit_id").to_series().unique()
    shared = (
        working.parsed_where(pl.col("unit_id").is_in(ambiguous.implode()), "unit_key")
        .drop_nulls()
        .unique()
        .sort("unit_key")
    )
    return pl.concat(
        [
            undated.select("unit_key", pl.col("_meter").alias("_reading")),
            shared.select("unit_key", pl.lit(None, pl.Float64).alias("_reading")),
        ]
    )


def _with_gaps_by_unit(drains: pl.DataFrame, undated: pl.DataFrame) -> pl.DataFrame:
    """`_gap`: whether an undated drain of the unit may have come between a drain and the one before it."""
    if not undated.height:
        return drains.with_columns(pl.lit(False).alias("_gap"))
    between = (pl.col("_reading") > pl.col("_meter_before")) & (pl.col("_reading") < pl.col("_meter"))
    gaps = (
        drains.select("_row", "unit_key", "_meter", "_meter_before")
        .join(undated, on="unit_key")
        .filter(pl.col("_reading").is_null() | between)
        .select("_row", pl.lit(True).alias("_gap"))
        .unique()
    )
    return drains.join(gaps, on="_row", how="left", maintain_order="left").with_columns(
        pl.col("_gap").fill_null(False)
    )


def _with_gaps_by_orphans(drains: pl.DataFrame, working: WorkingTable, *, as_of: date) -> pl.DataFrame:
    """`_gap` also where a drain that names no unit may have come in between, by its day and its reading."""
    orphans = working.parsed.filter(pl.col("unit_id").is_null() & is_oil_change())
    if orphans.height > MOST_ORPHANS:
        return drains.with_columns(pl.lit(True).alias("_gap"))
    known = orphans.with_columns(
        pl.when(_usable_date(as_of)).then(pl.col("drained_on")),
        pl.when(~working.is_uneven).then(pl.col("meter_hours")),
    )
    gap = pl.col("_gap")
    for day, reading in known.select("drained_on", "meter_hours").unique().iter_rows():
        may_be = pl.lit(True)
        if day is not None:
            may_be = pl.lit(day).is_between(pl.col("_day_before"), pl.col("drained_on"))
        if reading is not None:
            may_be = may_be & pl.lit(reading).is_between(pl.col("_meter_before"), pl.col("_meter"))
        gap = gap | may_be.fill_null(False)
    return drains.with_columns(gap.alias("_gap"))


def _empty_cell(working: WorkingTable, column: str) -> pl.Expr:
    """Whether a cell is empty: no value, and no reason why it could not be read."""
    unread = working.findings.filter((pl.col("column") == column) & (pl.col("kind") == "held back"))
    return pl.col(column).is_null() & ~pl.col("_row").is_in(unread.get_column("row").drop_nulls().implode())


def _remarks(working: WorkingTable, parsed: pl.DataFrame, *, wanted: pl.Expr, highest: float) -> list[pl.DataFrame]:
    """Notes on unknown hours and resets, and hours that no fill can have."""
    rows = parsed.with_columns(_wanted=wanted, _checked=wanted & ~working.is_held_back).select(
        "_row",
        "_wanted",
        "_checked",
        "_why",
        "_before",
        "_reset_from",
        pl.col("_step").round(2).alias("_shown"),
        pl.col("meter_hours").alias("_reading"),
        "_step",
    )
    unknown = rows.filter(pl.col("_wanted") & pl.col("_why").is_not_null())
    reset = rows.filter(pl.col("_reset_from").is_not_null())
    none = rows.filter(pl.col("_checked") & (pl.col("_step") <= 0))
    long = rows.filter(pl.col("_checked") & (pl.col("_step") > highest))
    backwards = pl.format(
        "the meter runs backwards, {} h after {} h: taken as a reset",
        pl.col("_reading").round(2),
        pl.col("_reset_from").round(2),
    )
    too_long = pl.format(
        "shows {} h since the drain on line {}: over " + f"{highest:g} h; correct the reading", "_shown", "_before"
    )
    not_known = pl.format("hours on this oil are not known: {}", "_why")
    no_hours = pl.format("shows no hours since the drain on line {}: correct the reading", "_before")
    return [
        working.about_rows(unknown, "meter_hours", kind="note", message=not_known),
        working.about_rows(reset, "meter_hours", kind="note", message=backwards),
        working.about_rows(none, "meter_hours", kind="held back", message=no_hours),
        working.about_rows(long, "meter_hours", kind="held back", message=too_long),
    ]
