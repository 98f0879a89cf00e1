"""What is kept but asked about, and the drains' dates that have not come."""

from __future__ import annotations

from datetime import date

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, about_file, found, line_words
from draincurve.schemas.channels import CHANNELS, level_columns
from draincurve.schemas.columns import TABLES

USUAL_FACTOR = 2.5
"""A fill over this multiple of the unit's usual one may hide a service that was not written down."""
FEWEST_FOR_USUAL = 3
LOW_RETURN, HIGH_RETURN = 0.8, 1.03
"""Drained over filled: under the one oil is missing; over the other more came out than went in."""
SIGNS = {"milky": "milky", "burnt": "burnt smell", "leak": "leak"}
"""Columns whose yes calls for an inspection now, with their words."""
FEWEST_SAME = 5
"""Equal ratings from one rater, or in the log, before it is asked whether anyone looks."""


def with_future_dates(working: WorkingTable, column: str, as_of: date) -> WorkingTable:
    """Holds back rows dated after `as_of`."""
    late = working.typed.filter(pl.col(column) > as_of).select("_row", pl.col(column).alias("_day"))
    rows = late.join(working.raw.select("_row", column), on="_row", how="left")
    message = pl.format(f"is in the future: {{}} is after {as_of.isoformat()}", pl.col("_day").cast(pl.String))
    return working.with_findings(found(rows, column, "held back", message))


def with_asked_limits(working: WorkingTable) -> WorkingTable:
    """Asks about values outside the glossary's asked-about limits."""
    pieces = []
    for column in TABLES[working.table]:
        name = pl.col(column.name)
        if column.asked_high is not None:
            text = f"is over {column.asked_high:g} {column.unit}: is that right?"
            pieces.append(_asked(working, name > column.asked_high, column.name, text))
        if column.asked_low is not None:
            text = f"is under {column.asked_low:g} {column.unit}: is that right?"
            pieces.append(_asked(working, name.is_between(0, column.asked_low, closed="none"), column.name, text))
    return working.with_findings(*pieces)


def with_drain_questions(working: WorkingTable) -> WorkingTable:
    """Asks about single drains: volumes, spring hours, long fills, and signs that call for a look now."""
    share = pl.col("drained_ml") / pl.col("filled_ml")
    low = share < LOW_RETURN
    high = share.is_between(HIGH_RETURN, 1.25, closed="right")
    younger = pl.col("spring_hours") < pl.col("oil_hours")
    percent = pl.format("{} % of what was filled came out", (share * 100).round(0).cast(pl.Int64, strict=False))
    pieces = [
        _asked(
            working, low, "drained_ml", pl.concat_str(percent, pl.lit(": was it drained fully, or does it leak?"))
        ),
        _asked(working, high, "drained_ml", pl.concat_str(percent, pl.lit(": was it measured right?"))),
        _asked(
            working,
            younger,
            "spring_hours",
            "is less than the hours on the oil: was the spring changed on this fill?",
        ),
    ]
    pieces += [
        _asked(working, pl.col(sign), sign, f"{words}: inspect now, whatever the interval")
        for sign, words in SIGNS.items()
    ]
    return working.with_findings(*pieces, _long_fills(working))


def with_rating_questions(working: WorkingTable) -> WorkingTable:
    """Asks where every rating of the log, or of one rater, is the same."""
    kept = working.typed.select("_row", *level_columns(), "rated_by").filter(
        ~pl.col("_row").is_in(working.held_rows.implode())
    )
    pieces: list[pl.DataFrame] = []
    for channel in CHANNELS:
        low, high = channel.low, channel.high
        rated = kept.filter(pl.col(low).is_not_null()).select(low, high, "rated_by")
        by_rater = (
            rated.drop_nulls("rated_by")
            .group_by("rated_by")
            .agg(pl.len().alias("drains"), pl.struct(low, high).n_unique().alias("levels"), pl.col(low).first())
            .filter((pl.col("levels") == 1) & (pl.col("drains") >= FEWEST_SAME))
            .sort("rated_by")
        )
        if rated.height >= FEWEST_SAME and rated.select(low, high).n_unique() == 1:
            level = rated.item(0, low)
            pieces.append(
                about_file(
                    channel.rating,
                    str(level),
                    "asked",
                    f"all {rated.height} ratings are {level}: does anyone look?",
                )
            )
            continue
        pieces += [
            about_file(
                channel.rating,
                rater,
                "asked",
                f"all {drains} ratings by {rater} are {level}: are they looked at?",
            )
            for rater, drains, _, level in by_rater.iter_rows()
        ]
    return working.with_findings(*pieces)


def with_settling_note(working: WorkingTable, standard_hours: float) -> WorkingTable:
    """Counts the rated drains without a settling time, for which the shop's standard [h] is assumed."""
    rated = pl.any_horizontal(pl.col(channel.low).is_not_null() for channel in CHANNELS)
    kept = working.typed.select("_row", "settle_hours", rated.alias("_rated")).filter(
        pl.col("_rated") & ~pl.col("_row").is_in(working.held_rows.implode())
    )
    silent = kept.get_column("settle_hours").null_count()
    if not silent:
        return working
    message = (
        f"{silent} of {kept.height} rated drains name no settling time: the shop's standard of {standard_hours:g} h "
        "is assumed"
    )
    return working.with_findings(about_file("settle_hours", None, "note", message))


def with_same_day_questions(working: WorkingTable) -> WorkingTable:
    """Asks about a unit that is entered twice on one day; both rows count, since fewer hours would be unsafe."""
    twice = (
        working.typed.drop_nulls(["unit_key", "date"])
        .filter(pl.struct("unit_key", "date", "hours").is_duplicated())
        .sort("_row")
        .with_columns(line_words().alias("_place"))
        .with_columns(pl.col("_row", "_place").first().over("unit_key", "date", "hours").name.prefix("_first"))
        .filter(pl.col("_row") != pl.col("_first_row"))
        .select("_row", "_first_place")
        .join(working.raw.select("_row", "unit_id"), on="_row", how="left")
    )
    message = pl.format("is the same as line {}: is it a copy? Both are counted", "_first_place")
    return working.with_findings(found(twice, "unit_id", "asked", message))


def with_unknown_hours(working: WorkingTable) -> WorkingTable:
    """Asks for the hours of riding days and bookings that have none; unknown hours are never no hours."""
    message = "is empty: how many hours were they? Unknown hours count as many, never as none"
    return working.with_findings(_asked(working, pl.col("hours").is_null(), "hours", message))


def _asked(working: WorkingTable, when: pl.Expr, column: str, message: str | pl.Expr) -> pl.DataFrame:
    """A question for each row where `when` is true of the typed values."""
    text = pl.lit(message) if isinstance(message, str) else message
    rows = working.typed.filter(when.fill_null(False)).select("_row", text.alias("_message"))
    if column in working.raw.columns:
        rows = rows.join(working.raw.select("_row", column), on="_row", how="left")
    return found(rows, column, "asked", pl.col("_message"))


def _long_fills(working: WorkingTable) -> pl.DataFrame:
    """Fills over 2.5 times the median of the unit's fills, where it has at least three."""
    drains = (
        working.typed.select("_row", "oil_hours", "unit_key", "service_kind")
        .filter(
            pl.col("oil_hours").is_not_null()
            & pl.col("unit_key").is_not_null()
            & (pl.col("service_kind") != "top-up").fill_null(True)
            & ~pl.col("_row").is_in(working.held_rows.implode())
        )
        .with_columns(
            pl.col("oil_hours").median().over("unit_key").alias("_usual"), pl.len().over("unit_key").alias("_fills")
        )
    )
    long = drains.filter(
        (pl.col("_fills") >= FEWEST_FOR_USUAL) & (pl.col("oil_hours") > USUAL_FACTOR * pl.col("_usual"))
    ).select("_row", pl.col("oil_hours").alias("_hours"), "_usual")
    if "oil_hours" in working.raw.columns:
        long = long.join(working.raw.select("_row", "oil_hours"), on="_row", how="left")
    message = pl.format(
        "{} h is over 2.5 times this unit's usual {} h: was a service left out?",
        pl.col("_hours").round(2),
        pl.col("_usual").round(2),
    )
    return found(long, "oil_hours", "asked", message)
