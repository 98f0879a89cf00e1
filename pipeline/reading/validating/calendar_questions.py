"""Questions about fills whose hours the calendar hardly allows: too many a day, or one oil that is entered twice."""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, line_label
from draincurve.schemas.service_kinds import is_oil_change

MOST_HOURS_A_DAY = 12.0
"""Hours a day since the drain before, over which a fill is asked about (our choice; long days can be confirmed)."""
SECOND_LOOK_DAYS = 2
SECOND_LOOK_HOURS_A_DAY = 4.0
"""A fill of the same hours as the one before, within these days and over these hours a day, by somebody else, is
probably a second look at the same oil."""
SAME_DAY_HOURS = 6.0
"""Hours of both of two fills of one unit and day, over which they are probably one, entered twice (our choice)."""
_CONFIRM = "write yes in a column headed confirmed"


def without_impossible_proposals(drains: WorkingTable) -> WorkingTable:
    """Takes back proposals of hours that the days since the unit's drain before do not hold."""
    proposed = (
        drains.findings.filter((pl.col("kind") == "asked") & (pl.col("column") == "oil_hours"))
        .select(pl.col("row").alias("_row"), pl.col("proposal").cast(pl.Float64, strict=False).alias("_hours"))
        .drop_nulls()
    )
    if proposed.is_empty():
        return drains
    days = (pl.col("drained_on") - pl.col("drained_on").shift().over("unit_key")).dt.total_days()
    changes = drains.parsed_where(
        is_oil_change() & ~drains.is_held_back,
        *(pl.col("_row").cast(pl.UInt32), "unit_key", "drained_on"),
    ).sort("unit_key", "drained_on", "_row")
    impossible = (
        changes.with_columns(days.alias("_days"))
        .join(proposed, on="_row")
        .filter((pl.col("_days") > 0) & (pl.col("_hours") > MOST_HOURS_A_DAY * pl.col("_days")))
    )
    about = (pl.col("column") == "oil_hours") & pl.col("row").is_in(impossible["_row"].implode())
    kept = pl.when(~about.fill_null(False)).then("proposal").alias("proposal")
    return replace(drains, findings=drains.findings.with_columns(kept))


def with_calendar_questions(drains: WorkingTable) -> WorkingTable:
    """Asks about such fills; until they are answered, their hours count as in question, at the hours as typed.

    drains : with the columns of `with_hours_questions`. Days are those since the unit's drain before in the log.
    """
    fills = drains.parsed_where(
        (pl.col("oil_hours") > 0)
        & ~pl.col("hours_in_question")
        & is_oil_change()
        & ~pl.col("confirmed").fill_null(False)
        & pl.all_horizontal(pl.col("unit_key", "drained_on").is_not_null())
        & ~drains.is_held_back,
        *("_row", "unit_key", "drained_on", "oil_hours", "rated_by", line_label().alias("_label")),
    ).sort("unit_key", "drained_on", "_row")
    before = (
        pl.col("_row", "drained_on", "oil_hours", "rated_by", "_label")
        .shift()
        .over("unit_key")
        .name.prefix("_before_")
    )
    days = (pl.col("drained_on") - pl.col("_before_drained_on")).dt.total_days()
    a_day = pl.col("oil_hours") / days
    again = (
        (days <= SECOND_LOOK_DAYS)
        & (pl.col("oil_hours") == pl.col("_before_oil_hours"))
        & (pl.col("rated_by") != pl.col("_before_rated_by"))
        & (a_day > SECOND_LOOK_HOURS_A_DAY)
    )
    look = pl.format(
        "the same hours as line {} a day or two before, by another rater. One oil: write its date here. Two changes "
        f"of oil: {_CONFIRM}",
        "_before__label",
    )
    many = pl.format(
        "{} h a day since the drain before, in line {}: check hours and date. If they are right, " + _CONFIRM,
        a_day.round(1),
        "_before__label",
    )
    twice = pl.format(
        "{} h, and {} h at the drain of the same day in line {}: is it one drain? Delete the wrong row, or "
        + _CONFIRM,
        pl.col("oil_hours").round(2),
        pl.col("_before_oil_hours").round(2),
        "_before__label",
    )
    same_day = (days == 0) & (pl.min_horizontal("oil_hours", "_before_oil_hours") > SAME_DAY_HOURS)
    later = days > 0
    text = pl.when(same_day).then(twice).when(later & again).then(look)
    text = text.when(later & (a_day > MOST_HOURS_A_DAY)).then(many)
    asked = (
        fills.with_columns(before)
        .with_columns(
            text.alias("_text"),
            pl.when(later & again).then(pl.lit("drained_on")).otherwise(pl.lit("oil_hours")).alias("_column"),
            pl.when(same_day).then("_before__row").alias("_other"),
        )
        .drop_nulls("_text")
        .select("_row", "_text", "_column", "_other")
    )
    in_question = pl.col("_row").is_in(pl.concat([asked["_row"], asked["_other"].drop_nulls()]).implode())
    marked = drains.parsed.with_columns(
        pl.when(in_question).then("oil_hours").otherwise("cautious_hours").alias("cautious_hours"),
        (pl.col("hours_in_question") | in_question).alias("hours_in_question"),
    )
    findings = [
        drains.about_rows(
            asked.filter(pl.col("_column") == column).drop("_column", "_other"),
            column,
            kind="asked",
            message=pl.col("_text"),
        )
        for column in ("drained_on", "oil_hours")
    ]
    return drains.with_parsed(marked).with_findings(*findings)
