"""Hours in words are hours where they say one number."""

from __future__ import annotations

import polars as pl
import pytest

from draincurve.pipeline.reading.cleaning.number_words import with_digits
from draincurve.pipeline.reading.cleaning.numbers import DecimalMarks
from draincurve.pipeline.reading.cleaning.quantity_cells import read_quantities

HOURS = {
    "twelve": 12.0,
    "Twelve hours": 12.0,
    "elfeinhalb": 11.5,
    "zwölfeinhalb Std.": 12.5,
    "anderthalb Stunden": 1.5,
    "zwölf": 12.0,
    "douze et demie": 12.5,
    "onze heures": 11.0,
    "doce y media": 12.5,
    "undici ore e mezza": 11.5,
    "ten and a half hours": 10.5,
    "dix-huit": 18.0,
}


@pytest.mark.parametrize("typed", HOURS)
def test_a_number_in_words(typed: str) -> None:
    read = read_quantities(pl.Series([typed]), "run hours", column_unit=None, file_marks=DecimalMarks())
    assert read["value"].to_list() == [HOURS[typed]]


@pytest.mark.parametrize(
    "typed", ["eight or nine", "twelve thirteen", "a dozen", "half", "ninety", "vingt et un", "elfen"]
)
def test_other_words_are_no_hours(typed: str) -> None:
    read = read_quantities(pl.Series([typed]), "run hours", column_unit=None, file_marks=DecimalMarks())
    assert read["value"].to_list() == [None]
    assert read["reason"].item()


@pytest.mark.parametrize("typed", ["12 h", "", "F12", "unit"])
def test_a_text_without_such_a_word_stays(typed: str) -> None:
    assert with_digits(typed) == typed
