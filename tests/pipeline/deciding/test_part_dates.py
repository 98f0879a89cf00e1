"""Hours until a part's wear point where two clocks run: that of its measurements and that of the table of parts."""

from dataclasses import replace

import pytest

from draincurve.pipeline.deciding.part_dates import hours_until_wear
from draincurve.pipeline.deciding.wear_result import UnitWear

WORN = UnitWear(
    "F11", "F11", None, 3, 0.31, None, False, clock_now=222.0, wear_hours=178.0, beyond_range=False,
    line_low=170.0, line_middle=180.0, line_high=190.0, allowed_h=0.0, why="why",
    why_run="why now", last_bound=None,
)  # fmt: skip


def test_what_is_over_is_over_by_all_its_hours():
    assert hours_until_wear(WORN, 4.0, 226.0) == (pytest.approx(-48.0), "why now")


def test_hours_of_two_clocks_that_differ_are_asked_about_and_the_longer_count():
    early = replace(WORN, clock_now=100.0, allowed_h=78.0)
    assert hours_until_wear(early, 4.0, 106.0) == (pytest.approx(74.0), "why")
    left, why = hours_until_wear(early, 4.0, 150.0)
    assert left == pytest.approx(28.0)
    assert why == "why; its measurements make it 104.0 h, the table of parts 150.0 h: which?"
    left, why = hours_until_wear(early, 4.0, 60.0)
    assert left == pytest.approx(74.0), "the shorter hours lengthen nothing"
    assert why.endswith("which?")


def test_a_reading_past_the_limit_leaves_nothing():
    past = replace(WORN, clock_now=100.0, allowed_h=0.0)
    assert hours_until_wear(past, 4.0, 104.0)[0] == pytest.approx(-4.0)
