"""fleet_intervals.csv: one row per spring type and oil grade in use, for a unit without history."""

from __future__ import annotations

import pandera.polars as pa
import polars as pl

from draincurve.schemas.errors import ContractError
from draincurve.schemas.next_service_table import SET_BY
from draincurve.schemas.output_table import ALLOWED_SHORTFALL, checked_table, refuse_where
from draincurve.schemas.settings import Settings


class FleetIntervals(pa.DataFrameModel):
    """What a new unit starts with: wide, and borrowed from the fleet."""

    spring_type: str = pa.Field(description="spring in use; never empty", str_length={"min_value": 1})
    oil_grade: str = pa.Field(description="oil in use; never empty", str_length={"min_value": 1})
    interval_h: float = pa.Field(
        description="hours at which to change the oil [h], rounded down to the step; empty where nothing sets one",
        nullable=True,
        ge=0,
        le=1e5,
    )
    interval_low_h: float = pa.Field(
        description="5 % posterior point of the oil's hours at the accepted risk in a new unit [h], before caps and "
        "rounding",
        nullable=True,
        gt=0,
    )
    interval_high_h: float = pa.Field(description="95 % posterior point of the same [h]", nullable=True, gt=0)
    set_by: str = pa.Field(description="what set the interval", nullable=True, isin=SET_BY)
    drains: int = pa.Field(description="accepted drains of this spring and oil together; 0 is all borrowed", ge=0)
    units: int = pa.Field(description="units that these drains come from", ge=0)

    class Config:
        """Exactly these columns, in this order."""

        strict = True
        ordered = True


COLUMNS = tuple(FleetIntervals.to_schema().columns)


def checked_fleet_intervals(table: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """The table, if it follows every rule over its columns. Raises ContractError otherwise."""
    name = "fleet_intervals"
    checked_table(table, FleetIntervals, name)
    step, longest = settings.step_h, settings.caps.max_interval_h
    over = pl.col("interval_h") / step - (pl.col("interval_h") / step).round()
    refuse_where(table, (over * step).abs() > ALLOWED_SHORTFALL, name, f"interval_h is in steps of {step:g} h")
    if longest is not None:
        refuse_where(table, pl.col("interval_h") > longest, name, f"interval_h is at most {longest:g} h")
    refuse_where(table, pl.col("interval_low_h") > pl.col("interval_high_h"), name, "low is not over high")
    refuse_where(
        table, pl.col("interval_h").is_null() != pl.col("set_by").is_null(), name, "an interval names what set it"
    )
    refuse_where(table, pl.col("units") > pl.col("drains"), name, "no more units than drains")
    if table.select("spring_type", "oil_grade").is_duplicated().any():
        raise ContractError(f"{name}: a spring type and oil grade appear twice")
    return table
