"""Polars tables as pandas frames, without the library (pyarrow) that their own conversion takes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

if TYPE_CHECKING:
    import pandas as pd


def pandas_frame(table: pl.DataFrame) -> pd.DataFrame:
    """The table with the column types of pandas: texts, categories, numbers, truth values, and days as datetime64.

    A missing number is NaN, so that whole numbers with a gap are floats; a missing day is NaT.
    """
    import pandas as pd

    return pd.DataFrame({column.name: _values(column, pd) for column in table.get_columns()})


def _values(column: pl.Series, pd: Any) -> Any:
    kind = column.dtype
    if kind == pl.String:
        return pd.Series(column.to_list(), dtype="str")
    if isinstance(kind, pl.Categorical | pl.Enum):
        return pd.Categorical(column.cast(pl.String).to_list())
    if kind == pl.Date:
        return column.cast(pl.Datetime("ms")).to_numpy()
    if kind.is_nested() or (kind == pl.Boolean and column.has_nulls()):
        return pd.Series(column.to_list(), dtype=object)
    return column.to_numpy()
