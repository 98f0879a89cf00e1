"""forecast.csv: services, rebuilds and litres of each oil for the next weeks, and for all of them together."""

from __future__ import annotations

import pandera.polars as pa
import polars as pl

from draincurve.schemas.errors import ContractError
from draincurve.schemas.output_table import checked_table, refuse_where

SERVICES, REBUILDS, OIL = "services", "rebuilds", "oil"
ITEMS = (SERVICES, REBUILDS, OIL)
UNKNOWN_GRADE = "grade not known"


class Forecast(pa.DataFrameModel):
    """One row per item and week, then one per item for all weeks; ranges of weeks do not add up to that of all."""

    week_from: pl.Date = pa.Field(description="first day of the week, or of all weeks")
    week_to: pl.Date = pa.Field(description="last day of the week, or of all weeks")
    item: str = pa.Field(description="what is counted; rebuilds are among the services", isin=ITEMS)
    oil_grade: str = pa.Field(description="the oil, for item oil; else empty", nullable=True)
    unit: str = pa.Field(description="services, rebuilds or l", isin=("services", "rebuilds", "l"))
    expected: float = pa.Field(description="mean over what may happen", ge=0)
    low: float = pa.Field(description="10 % point", ge=0)
    high: float = pa.Field(description="90 % point", ge=0)

    class Config:
        """Exactly these columns, in this order."""

        strict = True
        ordered = True


COLUMNS = tuple(Forecast.to_schema().columns)


def empty_forecast() -> pl.DataFrame:
    """A table without rows."""
    kinds: dict[str, type[pl.DataType]] = dict.fromkeys(COLUMNS, pl.String)
    kinds |= {"week_from": pl.Date, "week_to": pl.Date}
    return pl.DataFrame(schema=kinds | dict.fromkeys(("expected", "low", "high"), pl.Float64))


def checked_forecast(table: pl.DataFrame) -> pl.DataFrame:
    """The table, if it follows every rule over its columns. Raises ContractError otherwise."""
    name = "forecast"
    checked_table(table, Forecast, name)
    refuse_where(table, pl.col("low") > pl.col("high"), name, "low is not over high")
    refuse_where(table, pl.col("week_from") > pl.col("week_to"), name, "a week begins before it ends")
    oil = pl.col("item") == OIL
    refuse_where(table, oil != pl.col("oil_grade").is_not_null(), name, "oil names its grade, and nothing else does")
    if table.select("week_from", "week_to", "item", "oil_grade").is_duplicated().any():
        raise ContractError(f"{name}: an item of a week appears twice")
    return table
