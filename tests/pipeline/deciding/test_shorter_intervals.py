"""Of two decisions the shorter counts, row by row."""

import numpy as np
import polars as pl

from draincurve.pipeline.deciding.costs import NoOptimum
from draincurve.pipeline.deciding.intervals import DecidedIntervals, shorter_intervals


def decided(hours: list[float | None], set_by: str) -> DecidedIntervals:
    numbers = pl.Series("interval_h", hours, dtype=pl.Float64)
    table = pl.DataFrame(
        [
            numbers,
            numbers.alias("interval_low_h"),
            numbers.alias("interval_high_h"),
            pl.Series("set_by", [None if one is None else set_by for one in hours], dtype=pl.String),
        ]
    )
    rows = len(hours)
    unrounded = numbers.fill_null(float("inf")).to_numpy()
    return DecidedIntervals(
        table,
        unrounded,
        np.full(rows, np.inf),
        (NoOptimum.FOUND,) * rows,
        np.zeros(rows, dtype=bool),
        {set_by: unrounded / 100},
    )


def test_the_shorter_of_each_row() -> None:
    found = shorter_intervals(decided([10.0, 8.0, None, 5.0], "colour"), decided([9.0, 12.0, 7.0, None], "debris"))
    assert found.table["interval_h"].to_list() == [9.0, 8.0, 7.0, 5.0]
    assert found.table["set_by"].to_list() == ["debris", "colour", "debris", "colour"]
    assert found.unrounded_h.tolist() == [9.0, 8.0, 7.0, 5.0]
    np.testing.assert_array_equal(found.channel_risks["debris"], [0.09, np.nan, 0.07, np.nan])


def test_nothing_known_stays_unknown() -> None:
    found = shorter_intervals(decided([None], "colour"), decided([None], "debris"))
    assert found.table["interval_h"].to_list() == [None]
