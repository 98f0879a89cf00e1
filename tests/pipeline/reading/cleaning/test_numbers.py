"""Commas and dots: proven by the column, or not read."""

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.reading.cleaning.numbers import DecimalMarks, decimal_marks, plain_numbers, read_number


@pytest.mark.parametrize(
    ("column", "text", "value"),
    [
        (["41,5"], "41,5", 41.5),
        (["41,5", "7,25"], "1,234", 1.234),
        (["1,234.5"], "1,234", 1234.0),
        (["12.5", "7.25"], "1,234", 1234.0),
        (["1,234"], "1,234", None),
        (["41,5", "41.5"], "1,234", None),
        (["0,350"], "0,350", 0.35),
        (["12.5"], "1.234", 1.234),
        (["1.234"], "1.234", 1.234),
        (["1.234,5"], "1.234", 1234.0),
        (["41,5"], "1.234", None),
        ([], "1,234,567", 1234567.0),
        ([], "1.234.567,5", 1234567.5),
        ([], "12 000", 12000.0),
        ([], "12\u202f000,5", 12000.5),
        ([], "1'234.5", 1234.5),
        ([], "12,34,567", None),
        ([], "1.2.3", None),
        ([], "12 00", None),
    ],
)
def test_the_column_decides(column: list[str], text: str, value: float | None) -> None:
    read = read_number(text, decimal_marks(pl.Series(column, dtype=pl.String)))
    assert read.value == value
    assert (read.reason is None) == (value is not None)


def test_the_reason_names_both_readings() -> None:
    assert "may be 1234 or 1.234" in str(read_number("1,234", DecimalMarks()).reason)


def test_units_do_not_hide_the_evidence() -> None:
    assert decimal_marks(pl.Series(["~41,5 h", "12 min"])) == DecimalMarks(comma_decimal=True)


@given(st.floats(0, 1e9, allow_subnormal=False))
def test_plain_numbers_are_what_they_say(value: float) -> None:
    texts = pl.Series([repr(value), f" {value!r} ", f"{value:.2f}".replace(".", ","), "12 h", None])
    read = plain_numbers(texts, decimal_marks(texts)).to_list()
    assert read[0] in (value, None)
    assert read[1] == read[0]
    assert read[2] == float(f"{value:.2f}")
    assert read[3:] == [None, None]


def test_nothing_infinite_passes() -> None:
    texts = pl.Series(["1e999", "inf", "nan", "-inf"])
    assert plain_numbers(texts, DecimalMarks()).to_list() == [None] * 4
