"""Days of fitting in the table of parts against what the drains say of new parts and of hours on the spring."""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable
from draincurve.pipeline.reading.validating.questions import SPRING_FITTED
from draincurve.schemas.service_kinds import is_oil_change

APART_SHARE, APART_H = 0.1, 2.0
"""Hours of a spring by the two tables are the same if they differ by no more than these."""
_SHORTEST_NAME = 3
"""A part with fewer letters is in too many words to be looked for in new_parts."""


def with_part_fittings(parts: WorkingTable, drains: WorkingTable) -> tuple[WorkingTable, WorkingTable]:
    """Asks about parts that the drains have as newer, and about springs whose hours are others in the drains.

    Only the newest day of fitting of a unit's part is compared, since it counts. Until somebody answers, the longer
    hours count: of a spring that is older by the drains, fitted_at_h is so much higher, and hours on a spring that is
    asked about are no excuse for dirt (the drains' spring_in_question).
    """
    fitted = _newest_fittings(parts)
    pairs = fitted.join(_fills(drains, fitted["unit_key"]), on="unit_key").sort("_row", "drained_on")
    newer = _renewed(pairs)
    other = _other_hours(pairs).join(newer, on="_row", how="anti")
    wrong = pl.concat([newer.filter("is_spring"), other], how="diagonal")
    if wrong.is_empty() and newer.is_empty():
        return parts, drains
    new = "is before the new {} of the drain of {}: write when the one that runs now was fitted"
    hours = "makes it {} h by the drain of {}, where hours on the spring are {}: correct the wrong one"
    by_parts, by_drains = (pl.col("at_h") + pl.col("run")).round(1), pl.col("spring_hours").round(1)
    asked = parts.with_findings(
        parts.about_rows(
            newer.drop("fitted_on"), "fitted_on", kind="asked", message=pl.format(new, "part", "drained_on")
        ),
        parts.about_rows(
            other.drop("fitted_on"), "fitted_on", kind="asked",
            message=pl.format(hours, by_parts, "drained_on", by_drains),
        ),
    )  # fmt: skip
    higher = other.select("_row", (pl.col("spring_hours") - pl.col("run")).alias("_at_h"))
    parsed = parts.parsed.join(higher, on="_row", how="left", maintain_order="left")
    longer = pl.max_horizontal("fitted_at_h", "_at_h").alias("fitted_at_h")
    return asked.with_parsed(parsed.with_columns(longer).drop("_at_h")), _with_springs_in_question(drains, wrong)


def _newest_fittings(parts: WorkingTable) -> pl.DataFrame:
    """The last dated fitting of each part of a unit: _row, unit_key, part, fitted_on, at_h, is_spring, _word."""
    name = pl.col("part").str.to_lowercase().str.replace_all(r"[^\p{L}\p{N}]", "")
    fittings = parts.parsed.filter(~parts.is_held_back).drop_nulls(["unit_key", "part", "fitted_on"])
    newest = fittings.with_columns(name.alias("_name")).filter(
        pl.col("fitted_on") == pl.col("fitted_on").max().over("unit_key", "_name")
    )
    return newest.unique(["unit_key", "_name"], keep="first", maintain_order=True).select(
        "_row", "unit_key", "part", "fitted_on",
        pl.col("fitted_at_h").fill_null(0.0).alias("at_h"),
        pl.col("part").str.contains(SPRING_FITTED).alias("is_spring"),
        pl.col("part").str.to_lowercase().str.replace("(es|s)$", "").alias("_word"),
    )  # fmt: skip


def _fills(drains: WorkingTable, units: pl.Series) -> pl.DataFrame:
    """Fills of some units by day: unit_key, drained_on, begun_on, and hours that nobody asks about, else null."""
    kept = drains.parsed.filter(pl.col("unit_key").is_in(units.implode()) & ~drains.is_held_back)
    return (
        kept.filter(is_oil_change())
        .sort("unit_key", "drained_on")
        .select(
            "unit_key", "drained_on",
            pl.col("drained_on").shift().over("unit_key").alias("begun_on"),
            pl.when(~pl.col("hours_in_question")).then("oil_hours").alias("oil_hours"),
            pl.when(~pl.col("spring_in_question")).then("spring_hours").alias("spring_hours"),
            pl.col("new_parts").cast(pl.String).str.to_lowercase().alias("new_parts"),
        )
    )  # fmt: skip


def _renewed(pairs: pl.DataFrame) -> pl.DataFrame:
    """Fittings before a fill in which the drains have the part as new, with the day of the last such drain."""
    long_enough = pl.col("_word").str.len_chars() >= _SHORTEST_NAME
    named = pl.col("new_parts").str.contains(pl.col("_word"), literal=True) & long_enough
    spring = pl.col("is_spring") & pl.col("new_parts").str.contains(SPRING_FITTED)
    renewed = pairs.filter((named | spring) & (pl.col("begun_on") > pl.col("fitted_on")))
    return renewed.unique("_row", keep="last", maintain_order=True)


def _other_hours(pairs: pl.DataFrame) -> pl.DataFrame:
    """Fittings of springs whose hours by the last drain that states them are others than the drain's.

    Adds `run`, the hours since the fitting by that drain, counting the fill that had begun before whole; the spring
    may also have run only the fills begun since.
    """
    since, whole = pl.col("drained_on") > pl.col("fitted_on"), pl.col("begun_on") >= pl.col("fitted_on")
    counted = pairs.filter(pl.col("is_spring")).with_columns(
        pl.when(since).then("oil_hours").otherwise(0.0).fill_null(0.0).cum_sum().over("_row").alias("run"),
        pl.when(whole).then("oil_hours").otherwise(0.0).fill_null(0.0).cum_sum().over("_row").alias("_whole"),
        (since & pl.col("oil_hours").is_null()).cum_max().over("_row").alias("_unknown"),
    )
    last = counted.filter((pl.col("drained_on") >= pl.col("fitted_on")) & pl.col("spring_hours").is_not_null())
    last = last.unique("_row", keep="last", maintain_order=True)
    apart = pl.max_horizontal(APART_SHARE * pl.col("spring_hours"), pl.lit(APART_H))
    older = (pl.col("spring_hours") > pl.col("at_h") + pl.col("run") + apart) & ~pl.col("_unknown")
    return last.filter(older | (pl.col("spring_hours") < pl.col("at_h") + pl.col("_whole") - apart))


def _with_springs_in_question(drains: WorkingTable, wrong: pl.DataFrame) -> WorkingTable:
    """The drains with spring_in_question since the day of fitting; wrong : unit_key, fitted_on."""
    since = drains.parsed.select("unit_key", "drained_on").join(
        wrong.group_by("unit_key").agg(pl.col("fitted_on").min()), on="unit_key", how="left", maintain_order="left"
    )
    asked = since.select((pl.col("drained_on") >= pl.col("fitted_on")).fill_null(False)).to_series()
    return drains.with_parsed(drains.parsed.with_columns(pl.col("spring_in_question") | asked))
