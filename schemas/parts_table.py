"""parts.csv: every part whose life is limited, soonest first, and the visit at which to see to it."""

from __future__ import annotations

from datetime import date

import pandera.polars as pa
import polars as pl

from draincurve.schemas.output_table import checked_table, refuse_where

SET_BY = ("maker's hours", "maker's days", "wear")
SERVICE = "service"
"""The unit's own service in visit_with: what next_service.csv dates, a change of oil or an inspection for wear."""
HOURS_FROM = ("day of fitting", "last rebuild", "at least the log's")


class Parts(pa.DataFrameModel):
    """One row for each part of a unit in service."""

    unit_id: str = pa.Field(description="the unit")
    site: str = pa.Field(description="workshop or base; empty where none is named", nullable=True)
    part: str = pa.Field(description="the part")
    fitted_on: date = pa.Field(
        description="day of fitting, else of the last rebuild; empty if unknown", nullable=True
    )
    hours_now: float = pa.Field(description="hours on the part now [h]; empty if not known", nullable=True, ge=0)
    hours_from: str = pa.Field(description="what the hours are counted from", isin=HOURS_FROM)
    max_hours: float = pa.Field(description="the maker's longest hours [h]; empty where none", nullable=True, gt=0)
    max_days: float = pa.Field(description="the maker's longest time [days]; empty where none", nullable=True, gt=0)
    hours_left: float = pa.Field(description="hours to the first limit; negative if over", nullable=True)
    set_by: str = pa.Field(description="what comes first; empty where nothing limits it", nullable=True, isin=SET_BY)
    due_on: date = pa.Field(description="median day on which it is due; today where overdue or its age is unknown",
                            nullable=True)  # fmt: skip
    due_on_early: date = pa.Field(description="10 % point of that day", nullable=True)
    due_on_late: date = pa.Field(description="90 % point of that day", nullable=True)
    due_before: date = pa.Field(description="first day of the booked event before which it is due", nullable=True)
    visit_on: date = pa.Field(description="day of the one visit for what is due near this day; never after due_on",
                              nullable=True)  # fmt: skip
    visit_with: str = pa.Field(description="what else is seen to at that visit: service, other parts", nullable=True)
    why: str = pa.Field(description="one sentence on what sets the date")

    class Config:
        """Exactly these columns, in this order."""

        strict = True
        ordered = True


COLUMNS = tuple(Parts.to_schema().columns)


def checked_parts(table: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """The table, if it follows every rule over its columns. Raises ContractError otherwise."""
    checked_table(table, Parts, "parts")
    refuse_where(table, pl.col("visit_on") > pl.col("due_on"), "parts", "visit_on is not after due_on")
    refuse_where(table, pl.col("due_on") < as_of, "parts", f"no date is before {as_of}")
    over = pl.col("hours_now") + pl.col("hours_left") > pl.col("max_hours") + 0.001
    refuse_where(table, over, "parts", "a maker's longest hours are never lengthened")
    oldest = pl.col("fitted_on") + pl.duration(days=pl.col("max_days").cast(pl.Int64))
    late = (pl.col("due_on") > pl.max_horizontal(oldest, pl.lit(as_of))) & oldest.is_not_null()
    refuse_where(table, late, "parts", "a maker's longest time is never lengthened")
    return table
