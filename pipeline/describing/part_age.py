"""Hours on a unit's part when each fill began: parts wear, and shed more as they do.

A part is what is in a unit between two rebuilds. Its hours are the sum of its fills since the unit's first row, so at
least that. Hours run before the log are part of the unit's effect, since the term of the rating model is linear.
"""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.describing.drain_selection import oil_changes

AGE_COLUMNS = ("unit_key", "service_kind", "oil_hours", "hours_in_question")
"""Columns of drains that are read here."""


def usual_fill(drains: pl.DataFrame) -> float:
    """The fleet's median fill [h]; ten where no fill is known, when it is not used."""
    median = oil_changes(drains, ["oil_hours"])["oil_hours"].median()
    return float(median) if isinstance(median, (int, float)) else 10.0


def with_part_age(changes: pl.DataFrame, usual_hours: float) -> pl.DataFrame:
    """The oil changes with part_age and part_life [h].

    changes : sorted by unit and date; usual_hours : the fleet's usual fill [h], taken for unknown ones. part_age :
    hours on the part when the fill began; part_life : at the part's last drain. A drain at a rebuild is the last of
    the old part.
    """
    part = ["unit_key", "_part"]
    fill = _fill(changes, usual_hours)
    return (
        changes.with_columns(_rebuilds().cum_sum().shift(1, fill_value=0).over("unit_key").alias("_part"))
        .with_columns(
            (fill.cum_sum() - fill).over(part).alias("part_age"),
            fill.sum().over(part).alias("part_life"),
        )
        .drop("_part")
    )


def part_age_now(usual_hours: float) -> pl.Expr:
    """Hours on a unit's part when the present fill began [h], as an aggregate of the unit's sorted oil changes.

    A fill that is asked about counts as the usual one: an older part is the worse case here.
    """
    later = _rebuilds().cum_sum(reverse=True) == 0
    return pl.col("oil_hours").fill_null(usual_hours).filter(later).sum()


def _rebuilds() -> pl.Expr:
    return (pl.col("service_kind") == "rebuild").fill_null(False)


def _fill(changes: pl.DataFrame, usual_hours: float) -> pl.Expr:
    """Hours of a fill [h]. One that is asked about adds nothing to the age, as if its row were absent."""
    hours = pl.col("oil_hours").fill_null(usual_hours)
    if "hours_in_question" in changes.columns:
        return pl.when(~pl.col("hours_in_question")).then(hours).otherwise(0.0)
    return hours
