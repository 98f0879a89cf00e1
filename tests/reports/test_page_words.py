"""Numbers and dates in words."""

from __future__ import annotations

import math
from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.reports.page import words


def test_a_ratio_reads_as_the_shop_says_it() -> None:
    assert words.ratio(0.62, 0.5, 0.8) == "0.62x (0.5 to 0.8)"
    assert words.ratio(1.2, 0.98, 12.3) == "1.20x (0.98 to 12)"
    assert words.ratio(0.9, None, None) == "0.90x"
    assert words.ratio(None, 0.5, 0.8) == "not known"


@pytest.mark.parametrize(
    ("value", "said"),
    [(None, "not known"), (0.0, "0 %"), (0.004, "<1 %"), (0.1, "10 %"), (0.996, ">99 %"), (1.0, "100 %")],
)
def test_percent(value: float | None, said: str) -> None:
    assert words.percent(value) == said


@given(st.floats(0.0, 1.0))
def test_only_what_is_certain_reads_as_certain(chance: float) -> None:
    said = words.percent(chance)
    assert (said == "0 %") == (chance == 0.0)
    assert (said == "100 %") == (chance == 1.0)


def test_dates() -> None:
    as_of = date(2026, 5, 13)
    assert words.weekday(date(2026, 6, 20), as_of) == "Sat 20 Jun"
    assert words.day(date(2027, 1, 2), as_of) == "2 Jan 2027"
    assert words.day_range(date(2026, 6, 16), date(2026, 6, 27), as_of) == "16 to 27 Jun"
    assert words.day_range(date(2026, 5, 29), date(2026, 6, 9), as_of) == "29 May to 9 Jun"
    assert words.day_range(as_of, as_of, as_of) == ""
    assert [words.days_away(date(2026, 5, day), as_of) for day in (12, 13, 14, 20)] == [
        "1 day ago",
        "today",
        "tomorrow",
        "in 7 days",
    ]


def test_cells_as_values() -> None:
    assert words.number(math.nan) is None
    assert words.number(math.inf) is None
    assert words.number(True) is None
    assert words.number(3) == 3.0
    assert words.as_date(datetime(2026, 5, 13, 8, 0)) == date(2026, 5, 13)
    assert words.as_date("2026-05-13") == date(2026, 5, 13)
    assert words.as_date("soon") is None


def test_sentence_has_a_capital_and_one_stop() -> None:
    assert words.sentence("too few drains") == "Too few drains."
    assert words.sentence("Ask them.") == "Ask them."
    assert words.sentence("  ") == ""


@given(st.text(min_size=1, max_size=64), st.text(min_size=1, max_size=64))
def test_anchors_are_plain_stable_and_differ(one: str, other: str) -> None:
    assert words.anchor(one).replace("-", "").isalnum()
    assert words.anchor(one).isascii()
    assert words.anchor(one) == words.anchor(one)
    assert (words.anchor(one) == words.anchor(other)) == (one == other)
