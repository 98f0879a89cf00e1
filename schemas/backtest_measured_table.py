"""backtest_measured.csv: one row for each predicted reading, with the prediction and the value that came."""

from __future__ import annotations

from datetime import date

import pandera.polars as pa
import polars as pl

from draincurve.schemas.output_table import checked_table, refuse_where


class BacktestMeasured(pa.DataFrameModel):
    """Predictions of measured values, each from the readings before it only, and the value that came."""

    unit_id: str = pa.Field(description="the unit, as the shop writes it; never empty", str_length={"min_value": 1})
    site: str = pa.Field(description="workshop or base; empty where the log names none", nullable=True)
    measured_on: date = pa.Field(description="day of the predicted reading; of several of one fill, the last")
    quantity: str = pa.Field(description="what was measured")
    unit: str = pa.Field(description="unit of the values")
    clock_h: float = pa.Field(description="hours on the oil or on the part [h]")
    origin: date = pa.Field(description="the fleet's line uses readings before this day only")
    value: float = pa.Field(description="the value that came; of several readings of one fill, their mean")
    bound: str = pa.Field(
        description="under or over where the value is only known to be that", nullable=True, isin=("under", "over")
    )
    low: float = pa.Field(description="start of the predicted 90 % range")
    middle: float = pa.Field(description="median of the prediction")
    high: float = pa.Field(description="end of the predicted 90 % range")
    p_under: float = pa.Field(description="predicted chance of a value under the one that came", ge=0, le=1)
    score: float = pa.Field(
        description="continuous ranked probability score; lower is closer; in the unit of the values, or in "
        "percent of the value for viscosities and particle counts",
        ge=0,
    )
    score_fleet: float = pa.Field(description="score of the fleet's readings before the origin", ge=0)
    score_fleet_by_hours: float = pa.Field(description="score of those at like hours", ge=0)

    class Config:
        """Exactly these columns, in this order."""

        strict = True
        ordered = True


COLUMNS = tuple(BacktestMeasured.to_schema().columns)


def checked_backtest_measured(table: pl.DataFrame) -> pl.DataFrame:
    """The table, if it follows every rule over its columns. Raises ContractError otherwise."""
    name = "backtest_measured"
    checked_table(table, BacktestMeasured, name)
    refuse_where(table, pl.col("measured_on") < pl.col("origin"), name, "no reading is before its origin")
    refuse_where(table, ~pl.col("middle").is_between("low", "high"), name, "the median is inside its range")
    return table
