from datetime import date

import numpy as np
import pandas as pd
import polars as pl
import pytest

from draincurve.pipeline.reading.sources.data_frame import frame_columns, frame_table, is_frame
from draincurve.schemas.errors import SourceError


def cells(frame):
    return frame_table(frame, "drains").frame.to_dict(as_series=False)


def test_pandas_polars_and_arrow_give_the_same_cells():
    typed = pl.DataFrame(
        {
            "Unit": ["F1", "F2", None],
            "on": [date(2026, 1, 2), None, date(2026, 3, 4)],
            "hours": [12.0, None, 3.25],
            "rating": [2, 3, None],
        }
    )
    expected = {
        "Unit": ["F1", "F2", None],
        "on": ["2026-01-02", None, "2026-03-04"],
        "hours": ["12.0", None, "3.25"],
        "rating": ["2", "3", None],
        "_line": [1, 2, 3],
    }
    assert cells(typed) == expected
    assert cells(typed.lazy()) == expected
    assert cells(typed.to_arrow()) == expected
    assert cells(typed.to_pandas().astype({"rating": "Int64"})) == expected


def test_a_column_of_pandas_that_mixes_kinds_is_read_as_typed():
    frame = pd.DataFrame({"rating": ["2-3", 4, 3.0, 3.5, None, np.nan, pd.NA, date(2026, 1, 2)]})
    assert cells(frame)["rating"] == ["2-3", "4", "3", "3.5", "2026-01-02"]
    assert cells(frame)["_line"] == [1, 2, 3, 4, 8]


def test_whole_numbers_that_pandas_made_floats_stay_whole():
    assert cells(pd.DataFrame({"unit": [7, None, 9]}))["unit"] == ["7", "9"]


def test_days_of_pandas_have_no_time_unless_one_of_them_has():
    days = pd.Series(["2026-01-02", None, "2026-03-04"], dtype="datetime64[ns]")
    assert cells(pd.DataFrame({"on": days}))["on"] == ["2026-01-02", "2026-03-04"]
    zoned = pd.DataFrame({"on": days.dt.tz_localize("Pacific/Auckland")})
    assert cells(zoned)["on"] == ["2026-01-02", "2026-03-04"]
    timed = pd.DataFrame({"on": days + pd.Timedelta(hours=13)})
    assert cells(timed)["on"] == ["2026-01-02 13:00:00", "2026-03-04 13:00:00"]


def test_not_a_number_is_an_empty_cell():
    for frame in (pl.DataFrame({"a": [np.nan, 1.5]}), pd.DataFrame({"a": [np.nan, 1.5]})):
        assert cells(frame) == {"a": ["1.5"], "_line": [2]}


def test_an_index_with_a_name_is_a_column_and_a_repeated_header_is_kept():
    frame = pd.DataFrame([["x", 1.5, 2.5]], columns=["Rider", "h", "h"], index=pd.Index(["F1"], name="Unit"))
    table = frame_table(frame, "drains")
    assert table.typed_headers == ("Unit", "Rider", "h", "h")
    assert table.cell_columns == ["Unit", "Rider", "h", "h (2)"]
    assert [header for header, _ in frame_columns(frame.reset_index(drop=True))] == ["Rider", "h", "h"]


@pytest.mark.parametrize(
    "frame", [pd.DataFrame(), pl.DataFrame(), pl.DataFrame({"a": []}), pd.DataFrame({"a": [None, " "]})]
)
def test_drains_without_a_row_are_refused_and_other_tables_may_be_empty(frame):
    with pytest.raises(SourceError, match="drains frame: no row in it"):
        frame_table(frame, "drains")
    assert frame_table(frame, "usage").frame.height == 0


def test_a_column_without_text_is_refused():
    with pytest.raises(SourceError, match=r"drains frame: column a: holds List\(Int64\)"):
        frame_table(pl.DataFrame({"a": [[1]]}), "drains")


def test_the_digest_is_that_of_the_cells():
    one = frame_table(pl.DataFrame({"a": ["x"]}), "drains")
    assert one.sha256 == frame_table(pd.DataFrame({"a": ["x"]}), "drains").sha256
    assert one.sha256 != frame_table(pl.DataFrame({"a": ["y"]}), "drains").sha256
    assert (one.source, one.table) == ("drains frame", "drains")


def test_what_is_a_frame():
    assert is_frame(pd.DataFrame())
    assert is_frame(pl.DataFrame().lazy())
    assert not is_frame("drains.csv")
    assert not is_frame({"a": [1]})
