"""Frames of pandas are the same as those that polars makes with pyarrow."""

from __future__ import annotations

from datetime import date, datetime

import pandas as pd
import polars as pl
import pytest

from draincurve.notebook.pandas_frames import pandas_frame
from draincurve.pipeline.reading.sources.data_frame import frame_columns

TABLE = pl.DataFrame(
    {
        "text": ["F1", None, ""],
        "whole": [1, 2, 3],
        "gap": [1, None, 3],
        "number": [1.5, None, 3.0],
        "day": [date(2026, 6, 20), None, date(1900, 1, 1)],
        "time": [datetime(2026, 6, 20, 12), None, datetime(2026, 6, 21)],
        "truth": [True, False, True],
        "unsure": [True, None, False],
        "kind": pl.Series(["a", "b", None], dtype=pl.Categorical),
        "nothing": pl.Series([None] * 3, dtype=pl.String),
    }
)


@pytest.mark.parametrize("table", [TABLE, TABLE.clear()], ids=["rows", "none"])
def test_they_are_those_of_polars(table: pl.DataFrame) -> None:
    pd.testing.assert_frame_equal(pandas_frame(table), table.to_pandas(), check_categorical=False)


def test_a_frame_comes_back_as_it_went() -> None:
    back = pl.DataFrame(
        [column.alias(name) for name, column in frame_columns(pandas_frame(TABLE.drop("time", "unsure")))]
    )
    expected = TABLE.drop("time", "unsure").with_columns(
        pl.col("gap").cast(pl.Float64), pl.col("kind").cast(pl.String)
    )
    for name in expected.columns:
        assert back[name].cast(pl.String).to_list() == expected[name].cast(pl.String).to_list(), name


@pytest.mark.parametrize("dtype", ["Int64", "Float64", "boolean", "string", "category", "timedelta64[ns]"])
def test_types_of_pandas_that_know_a_missing_value(dtype: str) -> None:
    values = {"string": ["a", None], "category": ["a", None], "boolean": [True, None]}.get(dtype, [1, None])
    [(_, column)] = frame_columns(pd.DataFrame({"x": pd.Series(values).astype(dtype)}))
    assert column.null_count() == 1
    assert column.len() == 2
