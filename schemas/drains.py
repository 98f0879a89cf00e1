"""Drains after cleaning: one row for each oil change, checked against the glossary's hard limits."""

from __future__ import annotations

from datetime import date

import pandera.polars as pa
import polars as pl

from draincurve.schemas.channels import CHANNELS, RATING_HIGH, RATING_LOW
from draincurve.schemas.columns import DRAINS, EARLIEST_YEAR, SERVICE_KINDS, Column
from draincurve.schemas.limits import field_for

_COLUMNS: dict[str, Column] = {column.name: column for column in DRAINS}
MOST_RETURNED = 1.25
"""Drained over filled past which one of the two is wrong: no oil is made in a fork."""


def _level_columns() -> dict[str, pa.Column]:
    """The columns of every channel's ratings."""
    return {
        name: pa.Column(
            pl.Int64,
            [pa.Check.ge(RATING_LOW), pa.Check.le(RATING_HIGH)],
            nullable=True,
            title=f"{channel.name} rating, {end} level it may mean",
            description=_COLUMNS[channel.rating].meaning,
            metadata={"unit": "level", "why": _COLUMNS[channel.rating].why},
        )
        for channel in CHANNELS
        for name, end in ((channel.low, "lowest"), (channel.high, "highest"))
    }


class Drains(pa.DataFrameModel):
    """Typed drains. A range such as 2-3 has a lower and a higher level; both are null when not rated."""

    unit_id: str = field_for(_COLUMNS["unit_id"])
    drained_on: pl.Date = field_for(_COLUMNS["drained_on"], ge=date(EARLIEST_YEAR, 1, 1))
    oil_hours: float = field_for(_COLUMNS["oil_hours"])
    meter_hours: float = field_for(_COLUMNS["meter_hours"])
    oil_grade: str = field_for(_COLUMNS["oil_grade"])
    filled_ml: float = field_for(_COLUMNS["filled_ml"])
    drained_ml: float = field_for(_COLUMNS["drained_ml"])
    settle_hours: float = field_for(_COLUMNS["settle_hours"])
    spring_type: str = field_for(_COLUMNS["spring_type"])
    spring_hours: float = field_for(_COLUMNS["spring_hours"])
    rider: str = field_for(_COLUMNS["rider"])
    rated_by: str = field_for(_COLUMNS["rated_by"])
    surface: str = field_for(_COLUMNS["surface"])
    site: str = field_for(_COLUMNS["site"])
    machine: str = field_for(_COLUMNS["machine"])
    chamber: str = field_for(_COLUMNS["chamber"])
    drain_method: str = field_for(_COLUMNS["drain_method"])
    service_kind: str = field_for(_COLUMNS["service_kind"], isin=SERVICE_KINDS)
    new_parts: str = field_for(_COLUMNS["new_parts"])
    note: str = field_for(_COLUMNS["note"])
    milky: bool = field_for(_COLUMNS["milky"])
    burnt: bool = field_for(_COLUMNS["burnt"])
    leak: bool = field_for(_COLUMNS["leak"])

    @classmethod
    def to_schema(cls) -> pa.DataFrameSchema:
        """The columns above and those of every channel's ratings."""
        return super().to_schema().add_columns(_level_columns())

    @pa.dataframe_check(name="returned")
    @classmethod
    def returned_fits_filled(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """Not much more oil comes out than went in."""
        fits = pl.col("drained_ml") <= MOST_RETURNED * pl.col("filled_ml")
        return data.lazyframe.select((fits | (pl.col("filled_ml") <= 0)).fill_null(True))

    @pa.dataframe_check(name="hours")
    @classmethod
    def hours_are_given(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """Hours or a meter reading, unless it is a top-up."""
        given = pl.col("oil_hours").is_not_null() | pl.col("meter_hours").is_not_null()
        return data.lazyframe.select(given | _is_top_up())

    @pa.dataframe_check(name="rated")
    @classmethod
    def rating_is_given(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """At least one rating, unless it is a top-up."""
        rated = pl.any_horizontal(pl.col(channel.low).is_not_null() for channel in CHANNELS)
        return data.lazyframe.select(rated | _is_top_up())

    @pa.dataframe_check(name="rating_order")
    @classmethod
    def ranges_are_in_order(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """The lower level of a range is not over the higher."""
        ordered = ((pl.col(channel.low) <= pl.col(channel.high)).fill_null(True) for channel in CHANNELS)
        return data.lazyframe.select(pl.all_horizontal(ordered))


def _is_top_up() -> pl.Expr:
    return (pl.col("service_kind") == "top-up").fill_null(False)
