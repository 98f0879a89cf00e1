"""The same drain rated by two people: proof of how far raters agree, and no second drain.

Rows that agree on all but ratings, rater and note, and name different raters, are one drain rated more than once.
The first stays a drain; the others are set aside as second ratings, so that no fill of oil counts twice.
"""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import OWN_COLUMNS, WorkingTable, found, line_words
from draincurve.schemas.channels import CHANNELS, level_columns

MAY_DIFFER = ("rated_by", "note", *level_columns())


def parted_ratings(working: WorkingTable) -> tuple[WorkingTable, WorkingTable]:
    """(drains, second ratings), both with the findings of their own rows; those about the file stay with the drains.

    A row is a second rating only where both rows rate the same channel, nobody rates twice, and nothing is held
    against either row; otherwise the rows stay together, to be judged as contradictions. Second ratings have two
    more columns, drain_line and drain_source (null in a table of one file): the place of their drain.
    """
    second = _second_ratings(working)
    rows = second["_row"]
    told = second.select("_row", "_drain_place").join(
        working.raw.select("_row", *(name for name in ("rated_by",) if name in working.raw.columns)),
        on="_row",
        how="left",
    )
    message = pl.format(
        "rates the drain in line {} a second time: it compares raters, and is no further drain", "_drain_place"
    )
    drains = _part(working, ~pl.col("_row").is_in(rows.implode()), about_file=True) if rows.len() else working
    again = _part(working, pl.col("_row").is_in(rows.implode()), about_file=False)
    again = again.with_typed(again.typed.join(second.drop("_drain_place"), on="_row", how="left"))
    return drains, again.with_findings(found(told, "rated_by", "note", message))


def _second_ratings(working: WorkingTable) -> pl.DataFrame:
    """Rows that rate a drain again: _row, and the place of their drain (drain_line, drain_source, _drain_place)."""
    same = [name for name in working.typed.columns if name not in (*MAY_DIFFER, *OWN_COLUMNS)]
    days = (
        working.typed.select("_row", "unit_key", "drained_on", "rated_by", "oil_hours", "meter_hours")
        .filter(
            ~pl.col("_row").is_in(working.held_rows.implode()),
            pl.col("oil_hours").is_not_null() | pl.col("meter_hours").is_not_null(),
        )
        .drop_nulls(["unit_key", "drained_on", "rated_by"])
    )
    # Rows alone on their day are no second rating; comparing all columns is for the few others.
    twice = days.filter(pl.struct("unit_key", "drained_on").is_duplicated())["_row"]
    sound = working.typed.filter(pl.col("_row").is_in(twice.implode()))
    # The row that shows a sign stays the drain, whichever was written first.
    signs = [pl.col(channel.high) >= channel.sign.level for channel in CHANNELS if channel.sign is not None]
    shows_sign = pl.any_horizontal(*signs, pl.lit(False)).fill_null(False)
    rated_by_all = [pl.col(channel.low).is_not_null().all().over(same) for channel in CHANNELS]
    return (
        sound.sort(shows_sign, pl.col("_row"), descending=[True, False])
        .with_columns(line_words().alias("_place"))
        .with_columns(
            pl.col("_row").first().over(same).alias("_drain_row"),
            pl.col("_line").first().over(same).cast(pl.Int64).alias("drain_line"),
            pl.col("_source").first().over(same).alias("drain_source"),
            pl.col("_place").first().over(same).alias("_drain_place"),
        )
        .filter(
            (pl.len().over(same) == pl.col("rated_by").n_unique().over(same))
            & pl.any_horizontal(rated_by_all)
            & (pl.col("_row") != pl.col("_drain_row"))
        )
        .sort("_row")
        .select("_row", "drain_line", "drain_source", "_drain_place")
    )


def _part(working: WorkingTable, wanted: pl.Expr, about_file: bool) -> WorkingTable:
    """Some rows of a table, with their findings."""
    typed = working.typed.filter(wanted)
    kept = pl.col("row").is_in(typed["_row"].cast(pl.UInt32).implode())
    return replace(
        working,
        raw=working.raw.filter(wanted),
        typed=typed,
        findings=working.findings.filter(kept | pl.col("row").is_null() if about_file else kept),
    )
