"""What is known of the oils, after cleaning."""

from __future__ import annotations

import pandera.polars as pa
import polars as pl

from draincurve.schemas.columns import OILS, Column
from draincurve.schemas.limits import field_for

_COLUMNS: dict[str, Column] = {column.name: column for column in OILS}


class Oils(pa.DataFrameModel):
    """What is known of the oils, after cleaning."""

    oil_grade: str = field_for(_COLUMNS["oil_grade"])
    kv40: float = field_for(_COLUMNS["kv40"])
    kv100: float = field_for(_COLUMNS["kv100"])
    note: str = field_for(_COLUMNS["note"])

    @pa.dataframe_check(name="thins")
    @classmethod
    def oil_thins_as_it_warms(cls, data: pa.PolarsData) -> pl.LazyFrame:
        """At 100 C an oil is thinner than at 40 C."""
        return data.lazyframe.select((pl.col("kv100") < pl.col("kv40")).fill_null(True))
