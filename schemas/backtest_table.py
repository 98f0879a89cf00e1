"""backtest.csv: one row for each predicted drain and channel, with the prediction and the rating that came."""

from __future__ import annotations

from datetime import date
from typing import Any

import pandera.polars as pa
import polars as pl

from draincurve.schemas.channels import RATING_LEVELS, channel_names
from draincurve.schemas.output_table import checked_table, refuse_where

PROBABILITIES = tuple(f"p{level}" for level in range(1, RATING_LEVELS + 1))
_CLOSE = 0.006
"""Probabilities are written with 3 decimals, so their sums may differ by this much."""


def _share(what: str, nullable: bool = False) -> Any:
    """A number from 0 to 1, but for rounding."""
    return pa.Field(description=what, nullable=nullable, ge=-1e-9, le=1 + 1e-9)


class Backtest(pa.DataFrameModel):
    """Predictions as of an origin, from the drains before it only, and the rating that came."""

    unit_id: str = pa.Field(description="the unit, as the shop writes it; never empty", str_length={"min_value": 1})
    site: str = pa.Field(description="workshop or base of the drain; empty where the log names none", nullable=True)
    drained_on: date = pa.Field(description="day of the predicted drain")
    oil_hours: float = pa.Field(description="hours on the oil drained [h]", gt=0)
    channel: str = pa.Field(description="what was rated", isin=channel_names())
    origin: date = pa.Field(description="the prediction uses drains before this day only")
    rating_low: int = pa.Field(
        description="rating that came, lower end where a range was typed", ge=1, le=RATING_LEVELS
    )
    rating_high: int = pa.Field(description="its upper end, the same where one was typed", ge=1, le=RATING_LEVELS)
    past_limit: int = pa.Field(
        description="1 at or past the limit, 0 not; empty where a range straddles it", nullable=True, isin=(0, 1)
    )
    p1: float = _share("predicted chance of rating 1")
    p2: float = _share("predicted chance of rating 2")
    p3: float = _share("predicted chance of rating 3")
    p4: float = _share("predicted chance of rating 4")
    p5: float = _share("predicted chance of rating 5")
    p_past_limit: float = _share("predicted chance of a rating at or past the limit")
    score: float = _share("ranked probability score of the prediction; lower is closer")
    score_fleet: float = _share("score of the fleet's ratings before the origin")
    score_fleet_by_hours: float = _share("score of the fleet's ratings at like hours before the origin")
    score_boosted: float = _share("score of boosted trees; empty where they were not run", nullable=True)

    class Config:
        """Exactly these columns, in this order."""

        strict = True
        ordered = True


COLUMNS = tuple(Backtest.to_schema().columns)


def checked_backtest(table: pl.DataFrame) -> pl.DataFrame:
    """The table, if it follows every rule over its columns. Raises ContractError otherwise."""
    name = "backtest"
    checked_table(table, Backtest, name)
    refuse_where(table, (pl.sum_horizontal(PROBABILITIES) - 1.0).abs() > _CLOSE, name, "the probabilities sum to 1")
    refuse_where(table, pl.col("rating_low") > pl.col("rating_high"), name, "rating_low is not over rating_high")
    refuse_where(table, pl.col("drained_on") < pl.col("origin"), name, "no drain is before its origin")
    return table
