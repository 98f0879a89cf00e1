"""Further ratings of a channel's drains: two raters who looked at the same oil."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

from draincurve.pipeline.processing import FleetProcessing
from draincurve.pipeline.reading import Log
from draincurve.schemas.array_types import Integers

_KEY = ("source", "line")


class SecondRatings(NamedTuple):
    """Ratings of drains that have one already, (m,) each.

    row : of the drain among the channel's rated drains; low, high : levels, as typed; rater : who gave them
    """

    row: Integers
    low: Integers
    high: Integers
    rater: NDArray[np.object_]


def second_ratings_in_fit(log: Log, processing: FleetProcessing) -> pl.DataFrame | None:
    """Second ratings of which it is known who gave them; None where the design is held as indices of levels."""
    if processing.compact_design:
        return None
    unsure = log.people_in_one_cell.get("rated_by", {})
    return log.second_ratings.filter(~pl.col("rated_by").is_in(list(unsure))) if unsure else log.second_ratings


def second_ratings_of(rows: pl.DataFrame, channel: str, second: pl.DataFrame) -> SecondRatings | None:
    """The further ratings of some drains in a channel; None without any.

    rows : the channel's rated drains, with source and line; second : as the log has them
    """
    ends = [f"{channel}_low", f"{channel}_high"]
    wanted = second.select(
        pl.col("drain_source").alias("source"), pl.col("drain_line").alias("line"), "rated_by", *ends
    )
    keys = rows.select(_KEY).with_row_index("_row").with_columns(pl.col("source").cast(pl.String))
    ratings = (
        wanted.drop_nulls([*ends, "rated_by"]).join(keys, on=list(_KEY), nulls_equal=True).sort("_row", "rated_by")
    )
    if ratings.is_empty():
        return None
    row, low, high = (ratings[name].cast(pl.Int64).to_numpy() for name in ("_row", *ends))
    return SecondRatings(row, low, high, ratings["rated_by"].cast(pl.String).to_numpy())
