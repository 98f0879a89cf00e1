"""Hours with a half or quarters in words, in five languages."""

import pytest

from draincurve.pipeline.reading.cleaning.time_texts import read_time

HALF = (
    *("11 ore e mezza", "11 heures et demie", "11 horas y media", "11 and a half hours", "11einhalb Stunden"),
    *("11 h et demie", "11 Stunden und eine halbe", "11 hours and a half", "11 e mezza", "11 y media"),
)


@pytest.mark.parametrize(
    ("typed", "hours"),
    [
        *[(text, 11.5) for text in HALF],
        *[("11 ore e un quarto", 11.25), ("11 heures et quart", 11.25), ("11 horas y cuarto", 11.25)],
        *[("2 ore e tre quarti", 2.75), ("2 Stunden und drei viertel", 2.75), ("2 hours and three quarters", 2.75)],
    ],
)
def test_hours_and_parts_in_words(typed: str, hours: float) -> None:
    read = read_time(typed, "run hours")
    assert read is not None
    assert read.number == hours


@pytest.mark.parametrize("typed", ["11 half hours", "11 halbe Stunden", "11 ore mezza", "11 e 30", "12 quarters"])
def test_what_may_be_something_else_is_no_time(typed: str) -> None:
    assert read_time(typed, "run hours") is None
