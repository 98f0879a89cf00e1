"""Questions about hours on the oil: far from what is usual, in minutes or parts of a day, or off the meter.

Until its question is answered a row's hours are not known. What it can still say is in `cautious_hours`: hours [h] at
which a rating at or past the limit counts, since dirty oil shortens an interval and never lengthens it.
"""

from __future__ import annotations

import numpy as np
import polars as pl

from draincurve.pipeline.reading.cleaning.marked_cells import rows_in_doubt
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding
from draincurve.pipeline.reading.validating.hours_column import column_question, off_meter_question
from draincurve.pipeline.reading.validating.hours_counted_on import counted_on
from draincurve.pipeline.reading.validating.hours_wording import hours_wording
from draincurve.pipeline.reading.validating.running_hours import ascents_by_unit, rising_units
from draincurve.pipeline.reading.validating.usual_values import (
    DAY,
    FAR_OVER,
    FAR_UNDER,
    MINUTES,
    asked_multiples,
    usual_hours,
)
from draincurve.schemas.columns import column_of
from draincurve.schemas.service_kinds import is_oil_change

MOST_OF_A_DAY = 2.0
"""A part of a day as a spreadsheet stores a duration: 0.52 for 12:30, 1.25 for 30 h."""


def with_hours_questions(drains: WorkingTable, *, as_meant: bool) -> WorkingTable:
    """Asks about hours that may mean something else, with the columns hours_in_question and cautious_hours.

    drains : with the columns of `with_meter_hours`; as_meant : whether the settings say that they are hours on the
    oil. Each row is asked about once, by the most telling question, or all rows together.
    """
    rows = _judged_rows(drains)
    typed = rows.filter(pl.col("hours_basis") == "typed")
    is_typed = pl.col("hours_basis") == "typed"
    ascents = ascents_by_unit(_in_order(drains, fleet=rows.select(pl.col("_fleet").first()).item()))
    header = drains.headers.get("oil_hours", "oil_hours")
    whole = None if as_meant else column_question(typed, ascents, header=header)
    if whole is not None:  # what is usual among such hours says nothing
        kind = pl.when(is_typed).then(pl.lit("column")).otherwise(None)
    else:
        meters = [] if as_meant else rising_units(ascents)
        rises = is_typed & pl.col("unit_key").is_in(meters)
        kind = pl.when(rises).then(pl.lit("rising")).otherwise(_kind(as_meant=as_meant))
    filled = counted_on(typed["_hours"])
    if filled.any():
        in_run = pl.col("_row").is_in(typed["_row"].filter(filled).implode())
        kind = pl.when(in_run & kind.is_null()).then(pl.lit("counted")).otherwise(kind)
    if drains.similar_units:
        split = ~is_typed & pl.col("unit_key").is_in(sorted(drains.similar_units))
        kind = pl.when(split).then(pl.lit("split")).otherwise(kind)
    marked = rows_in_doubt(drains, "oil_hours")  # they are asked about already, and hours of their own are not known
    if marked.len():
        kind = pl.when(pl.col("_row").is_in(marked.implode())).then(pl.lit("marked")).otherwise(kind)
    asked = rows.with_columns(kind.alias("_kind")).drop_nulls("_kind").filter(~pl.col("confirmed"))
    questions = _by_typed_number(asked, drains.raw).with_columns(_cautious_hours().alias("cautious_hours"))
    off = off_meter_question(typed, drains.headers.get("meter_hours", "meter_hours")) if whole is None else None
    pieces = [
        drains.about_rows(
            questions.filter(pl.col("_kind") == name), "oil_hours", kind="asked", message=message, proposal=proposal
        )
        for name, (message, proposal) in hours_wording().items()
        if name != "meter" or off is None
    ]
    pieces += [
        file_finding(column, one.value, kind="asked", message=one.message, setting=one.setting)
        for column, one in (("oil_hours", whole), ("meter_hours", off))
        if one is not None
    ]
    return _marked(drains, questions).with_findings(*pieces)


def _marked(drains: WorkingTable, asked: pl.DataFrame) -> WorkingTable:
    """The drains with the two columns, by the rows that are asked about."""
    marks = drains.parsed.select("_row").join(
        asked.select("_row", "cautious_hours", pl.lit(True).alias("hours_in_question")),
        on="_row",
        how="left",
        maintain_order="left",
    )
    marked = drains.parsed.drop("off_meter_h", "meter_since").with_columns(
        marks.get_column("hours_in_question").fill_null(False), marks.get_column("cautious_hours")
    )
    return drains.with_parsed(marked)


def _judged_rows(drains: WorkingTable) -> pl.DataFrame:
    """Accepted oil changes with hours, and `_usual` [h] with `_whose` it is, null where nothing is usual.

    _over, _under : the multiples of it beyond which a row is asked about; _foreign : of a unit whose fills are mostly
    in another unit of time
    """
    rows = drains.parsed_where(
        _has_hours() & ~drains.is_held_back,
        "_row",
        "unit_key",
        "drained_on",
        "hours_basis",
        pl.col("oil_hours").alias("_hours"),
        "off_meter_h",
        "meter_since",
        "meter_hours",
        pl.col("confirmed").fill_null(False),
    )
    _, units = np.unique(rows["unit_key"].hash().to_numpy(), return_inverse=True)
    asked_high = column_of("drains", "oil_hours").asked_high or np.inf
    usual = usual_hours(rows["_hours"].to_numpy(), units, asked_high=asked_high)
    over, under = asked_multiples(rows["_hours"].to_numpy(), units, compared=usual.compared)
    return rows.with_columns(
        pl.Series("_usual", usual.compared, nan_to_null=True),
        pl.when(pl.Series(usual.own)).then(pl.lit("this unit's")).otherwise(pl.lit("the fleet's")).alias("_whose"),
        pl.lit(usual.fleet, pl.Float64).alias("_fleet"),
        pl.Series("_foreign", usual.foreign),
        pl.Series("_over", over),
        pl.Series("_under", under),
    )


def _has_hours() -> pl.Expr:
    """Whether a row is an oil change of a known unit with hours."""
    return (pl.col("oil_hours") > 0) & pl.col("unit_key").is_not_null() & is_oil_change()


def _in_order(drains: WorkingTable, *, fleet: float | None) -> pl.DataFrame:
    """Typed hours for `ascents_by_unit`, also of rows held back for something else than their hours or unit.

    Their order in the file still shows whether hours rise. drained_on is null where the date is what holds them back.
    """
    held = drains.findings.filter((pl.col("kind") == "held back") & pl.col("row").is_not_null())
    undated = pl.col("_row").is_in(held.filter(pl.col("column") == "drained_on")["row"].implode())
    doubtful = held.filter(pl.col("column").is_in(["", "unit_id", "oil_hours", "meter_hours"]))["row"]
    return drains.parsed_where(
        _has_hours() & (pl.col("hours_basis") == "typed") & ~pl.col("_row").is_in(doubtful.implode()),
        "unit_key",
        pl.when(~undated).then(pl.col("drained_on")).alias("drained_on"),
        pl.col("oil_hours").alias("_hours"),
        pl.lit(fleet, pl.Float64).alias("_fleet"),
    )


def _kind(*, as_meant: bool) -> pl.Expr:
    """What is asked about a row; null where nothing is. Hours that are as meant may be usual beyond the limits."""
    ratio = pl.col("_hours") / pl.col("_usual")
    limits = column_of("drains", "oil_hours")
    usual = pl.lit(as_meant) & _is_usual(ratio).fill_null(False)
    over, under = ratio > pl.col("_over"), ratio < pl.col("_under")
    of_fleet = pl.col("_hours") / pl.col("_fleet")  # for units whose every fill is in another unit of time
    typed = pl.col("hours_basis") == "typed"  # those of the meter are differences of its readings
    return (
        pl.when(pl.col("off_meter_h").is_not_null())
        .then(pl.lit("meter"))
        .when(typed & ((over & _is_usual(ratio / MINUTES)) | _is_usual(of_fleet / MINUTES)))
        .then(pl.lit("minutes"))
        .when(typed & ((under & _is_usual(ratio * DAY)) | _is_usual(of_fleet * DAY)))
        .then(pl.lit("day"))
        .when(over)
        .then(pl.lit("over"))
        .when(under)
        .then(pl.lit("under"))
        .when(pl.col("_foreign"))
        .then(pl.lit("beside"))
        .when((pl.col("_hours") > limits.asked_high) & ~usual)
        .then(pl.lit("long"))
        .when((pl.col("_hours") < limits.asked_low) & ~usual)
        .then(pl.lit("short"))
    )


def _by_typed_number(asked: pl.DataFrame, raw: pl.DataFrame) -> pl.DataFrame:
    """The rows with `_converted`, whether the hours differ from the number in the cell: a unit of time was named.

    Only a bare number under MOST_OF_A_DAY is a part of a day: who typed 45 min or 23 did not mean one.
    """
    cells = raw.select("_row", (pl.col("oil_hours") if "oil_hours" in raw.columns else pl.lit("")).alias("_cell"))
    typed = asked.select("_row").join(cells, on="_row", how="left", maintain_order="left")
    number = (
        typed["_cell"]
        .cast(pl.String)
        .str.replace(",", ".", literal=True)
        .str.strip_chars()
        .cast(pl.Float64, strict=False)
    )
    marked = asked.with_columns(((number - asked["_hours"]).abs() > 1e-9).fill_null(True).alias("_converted"))
    is_part = (pl.col("_hours") < MOST_OF_A_DAY) & ~pl.col("_converted")
    is_under = (pl.col("_hours") < pl.col("_under") * pl.col("_usual")).fill_null(False)
    kind = (
        pl.when((pl.col("_kind") != "day") | is_part | (~is_under & ~pl.col("_converted")))
        .then("_kind")
        .when(is_under)
        .then(pl.lit("under"))
    )
    return marked.with_columns(kind.alias("_kind")).drop_nulls("_kind")


def _is_usual(ratio: pl.Expr) -> pl.Expr:
    return ratio.is_between(FAR_UNDER, FAR_OVER)


def _cautious_hours() -> pl.Expr:
    """Hours at which a rating at or past the limit counts; null where the true ones may be shorter than any known."""
    hours = pl.col("_hours")
    kind = pl.col("_kind")
    return (
        pl.when(kind == "meter")
        .then(pl.min_horizontal(hours, pl.when(pl.col("off_meter_h") > 0).then(pl.col("off_meter_h"))))
        .when(kind == "minutes")
        .then(hours / MINUTES)
        .when(kind == "day")
        .then(hours * DAY)
        .when(kind.is_in(["under", "short", "beside"]))
        .then(hours)
    )
