"""next_service.csv: one row per unit in service, the answer of the main job."""

from __future__ import annotations

from datetime import date

import pandera.polars as pa
import polars as pl

from draincurve.schemas.channels import channel_names
from draincurve.schemas.errors import ContractError
from draincurve.schemas.output_table import ALLOWED_SHORTFALL, checked_table, refuse_where
from draincurve.schemas.settings import Settings

SET_BY = (*channel_names(), "maker_limit", "oil_age", "wear", "data_range")
WITH_FLEET = "with the fleet"
FASTER = "faster than the fleet"
SLOWER = "slower than the fleet"
TOO_FEW = "too few drains"
STANDINGS = (WITH_FLEET, FASTER, SLOWER, TOO_FEW)
BASES = ("logged", "estimated")


class NextService(pa.DataFrameModel):
    """One row per unit in service, soonest first; hours in h. An empty cell is a value that is not known.

    A new column is one field here. Its `metadata={"value": expression}` says how it follows from the decided units
    (see `column_values`); without it, the decided units must have a column of that name.
    """

    unit_id: str = pa.Field(description="the unit, as the shop writes it; never empty", str_length={"min_value": 1})
    site: str = pa.Field(
        description="workshop or base; empty where neither register nor log names one", nullable=True
    )
    spring_type: str = pa.Field(description="spring in the unit now", nullable=True)
    oil_grade: str = pa.Field(description="oil in the unit now", nullable=True)
    rider: str = pa.Field(description="who rides it now", nullable=True)
    drains: int = pa.Field(description="accepted oil changes and rebuilds; a top-up is no drain", ge=0)
    last_drained_on: date = pa.Field(description="day of the last of them; empty without one", nullable=True)
    hours_on_oil: float = pa.Field(
        description="hours on the oil now [h], counted cautiously; empty where no riding is known, or where the "
        "estimate is past any fill in the log",
        nullable=True,
        ge=0,
    )
    hours_on_oil_basis: str = pa.Field(
        description="logged where the usage log covers all time since the drain, else estimated", isin=BASES
    )
    interval_h: float = pa.Field(
        description="hours at which to change the oil [h], rounded down to the step; empty if nothing sets one; 0 is "
        "less than one step",
        nullable=True,
        ge=0,
        le=1e5,
    )
    interval_low_h: float = pa.Field(
        description="5 % posterior point of the oil's hours at the accepted risk [h], before caps and rounding; an "
        "interval that something else sets, such as wear, may be outside this range",
        nullable=True,
        gt=0,
    )
    interval_high_h: float = pa.Field(description="95 % posterior point of the same [h]", nullable=True, gt=0)
    set_by: str = pa.Field(
        description="what set the interval, or the date if the oil's age is first", nullable=True, isin=SET_BY
    )
    hours_left: float = pa.Field(description="interval less hours on oil [h]; negative when overdue", nullable=True)
    due_on: date = pa.Field(description="median day on which the hours run out; today when overdue", nullable=True)
    due_on_early: date = pa.Field(description="10 % point of that day", nullable=True)
    due_on_late: date = pa.Field(description="90 % point of that day", nullable=True)
    due_before: date = pa.Field(
        description="first day of the booked event before which to service; hours cannot be split inside an event",
        nullable=True,
    )
    risk_now: float = pa.Field(
        description="chance that the oil is past fit now: that any channel is at or past its limit",
        nullable=True,
        ge=0,
        le=1,
    )
    hours_ratio: float = pa.Field(
        description="oil in this unit lasts so many times what it lasts in the fleet's typical unit",
        nullable=True,
        gt=0,
    )
    hours_ratio_low: float = pa.Field(description="5 % posterior point of the ratio", nullable=True, gt=0)
    hours_ratio_high: float = pa.Field(description="95 % posterior point of the ratio", nullable=True, gt=0)
    p_faster: float = pa.Field(
        description="chance that the ratio is at or under the set one", nullable=True, ge=0, le=1
    )
    standing: str = pa.Field(
        description="how the unit stands against the fleet, in the words of the trade", isin=STANDINGS
    )
    turned: bool = pa.Field(description="whether a unit that was like the fleet has changed since", nullable=True)

    class Config:
        """Exactly these columns, in this order."""

        strict = True
        ordered = True


COLUMNS = tuple(NextService.to_schema().columns)


def checked_next_service(table: pl.DataFrame, settings: Settings, as_of: date) -> pl.DataFrame:
    """The table, if it follows every rule over its columns. Raises ContractError otherwise."""
    name = "next_service"
    checked_table(table, NextService, name)
    step, longest = settings.step_h, settings.caps.max_interval_h
    over = pl.col("interval_h") / step - (pl.col("interval_h") / step).round()
    refuse_where(table, (over * step).abs() > ALLOWED_SHORTFALL, name, f"interval_h is in steps of {step:g} h")
    if longest is not None:
        refuse_where(table, pl.col("interval_h") > longest, name, f"interval_h is at most {longest:g} h")
    left = pl.col("interval_h") - pl.col("hours_on_oil")
    refuse_where(
        table,
        ((pl.col("hours_left") - left).abs() > ALLOWED_SHORTFALL * 2)
        | (pl.col("hours_left").is_null() != left.is_null()),
        name,
        "hours_left is interval_h less hours_on_oil",
    )
    for low, high in (
        ("interval_low_h", "interval_high_h"),
        ("hours_ratio_low", "hours_ratio_high"),
        ("due_on_early", "due_on"),
        ("due_on", "due_on_late"),
    ):
        refuse_where(table, pl.col(low) > pl.col(high), name, f"{low} is not over {high}")
    refuse_where(table, pl.col("due_on_early") < as_of, name, f"no date is before {as_of}")
    refuse_where(
        table, pl.col("due_on") > pl.col("due_before"), name, "due_on is not after the event that due_before names"
    )
    refuse_where(
        table, pl.col("interval_h").is_not_null() & pl.col("set_by").is_null(), name, "an interval names what set it"
    )
    repeated = table.select("site", "unit_id").is_duplicated()
    if repeated.any():
        raise ContractError(f"{name}: unit {table.filter(repeated)['unit_id'][0]} appears twice in one site")
    return table
