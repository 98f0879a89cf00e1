"""Cells that hold a measured value: bounds and ISO 4406 codes."""

import polars as pl
import pytest

from draincurve.pipeline.reading.cleaning.measured_cells import read_measured_values
from draincurve.pipeline.reading.cleaning.numbers import DecimalMarks


def measured(*cells):
    return read_measured_values(pl.Series(cells, dtype=pl.String), DecimalMarks())


def test_measured_values_with_units_bounds_and_codes():
    found = measured("0,12", "0.12 mm", "< 5 ppm", "18/16/13", "ISO 18/16/>=13", None)
    assert found["value"].to_list() == [0.12, 0.12, 5.0, 18.0, 18.0, None]
    assert found["unit"].to_list() == [None, "mm", "ppm", None, None, None]
    assert found["code"].to_list() == [None, None, None, "18/16/13", "18/16/>=13", None]
    assert found["bound"].to_list() == [None, None, "under", None, None, None]
    assert found["reason"].null_count() == 6


@pytest.mark.parametrize(
    ("cell", "wording"),
    [
        ("13/16/18", "more large particles than small"),
        ("40/3/2", "from 0 to 28"),
        ("*/*/-", "no ISO 4406 code"),
        ("1-2", "not one value"),
        ("some", "not a number"),
    ],
)
def test_cells_that_are_no_measured_value(cell, wording):
    found = measured(cell)
    assert found["value"].to_list() == [None]
    assert wording in found["reason"][0]
