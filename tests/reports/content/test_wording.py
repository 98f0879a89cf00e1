"""Numbers and dates in words."""

from __future__ import annotations

import math
from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.reports.content import wording


def test_a_ratio_reads_as_the_shop_says_it() -> None:
    assert wording.ratio(0.62, low=0.5, high=0.8) == "0.62x (0.5 to 0.8)"
    assert wording.ratio(1.2, low=0.98, high=12.3) == "1.20x (0.98 to 12)"
    assert wording.ratio(0.9) == "0.90x"
    assert wording.ratio(None, low=0.5, high=0.8) == "not known"


@pytest.mark.parametrize(
    ("value", "said"),
    [(None, "not known"), (0.0, "0 %"), (0.004, "<1 %"), (0.1, "10 %"), (0.996, ">99 %"), (1.0, "100 %")],
)
def test_percent(value: float | None, said: str) -> None:
    assert wording.percent(value) == said


@given(st.floats(0.0, 1.0))
def test_only_what_is_certain_reads_as_certain(chance: float) -> None:
    said = wording.percent(chance)
    assert (said == "0 %") == (chance == 0.0)
    assert (said == "100 %") == (chance == 1.0)


def test_dates() -> None:
    as_of = date(2026, 5, 13)
    assert wording.weekday(date(2026, 6, 20), as_of) == "Sat 20 Jun"
    assert wording.day(date(2027, 1, 2), as_of) == "2 Jan 2027"
    assert wording.day_range(date(2026, 6, 16), date(2026, 6, 27), beside=as_of) == "16 to 27 Jun"
    assert wording.day_range(date(2026, 5, 29), date(2026, 6, 9), beside=as_of) == "29 May to 9 Jun"
    assert wording.day_range(as_of, as_of, beside=as_of) == ""
    assert [wording.days_away(date(2026, 5, day), as_of) for day in (12, 13, 14, 20)] == [
        "1 day ago",
        "today",
        "tomorrow",
        "in 7 days",
    ]


def test_cells_as_values() -> None:
    assert wording.finite_number(math.nan) is None
    assert wording.finite_number(math.inf) is None
    assert wording.finite_number(True) is None
    assert wording.finite_number(3) == 3.0
    assert wording.as_date(datetime(2026, 5, 13, 8, 0)) == date(2026, 5, 13)
    assert wording.as_date("2026-05-13") == date(2026, 5, 13)
    assert wording.as_date("soon") is None


def test_sentence_has_a_capital_and_one_stop() -> None:
    assert wording.sentence("too few drains") == "Too few drains."
    assert wording.sentence("Ask them.") == "Ask them."
    assert wording.sentence("  ") == ""
