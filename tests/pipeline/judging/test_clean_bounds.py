"""Bounds where few drains or none were past the limit."""

import polars as pl
import pytest

from draincurve.pipeline.judging.clean_bounds import clean_bounds, exact_upper_bound


def rows(units: int, drains: int, low: int = 1, high: int = 1) -> pl.DataFrame:
    return pl.DataFrame(
        {
            "unit_key": [f"u{place % units}" for place in range(drains)],
            "debris_low": [low] * drains,
            "debris_high": [high] * drains,
        }
    )


def test_none_past_the_limit_in_thirty_drains_of_ten_units():
    found = clean_bounds("debris", 4, rows=rows(10, 30))
    assert (found.drains, found.past, found.units, found.units_past) == (30, 0, 10, 0)
    assert "None of 30 drains was past the limit" in found.text
    assert "9.5 %" in found.text
    assert "26 % when the 30 are 10 units" in found.text


def test_few_past_are_counted_by_drain_and_by_unit():
    two = pl.concat([rows(5, 20), rows(1, 2, 5, 5)])
    found = clean_bounds("debris", 4, rows=two)
    assert (found.past, found.units_past) == (2, 1)
    assert found.share_of_units > found.share_of_drains > 2 / 22
    assert "2 of 22 drains were" in found.text


def test_many_past_or_nothing_to_count_give_no_bounds():
    assert clean_bounds("debris", 4, rows=pl.concat([rows(5, 20), rows(3, 3, 4, 4)])) is None
    assert (
        clean_bounds("debris", 4, rows=rows(2, 5, 3, 4)) is None
    )  # ranges that straddle the limit are on neither side
    assert clean_bounds("debris", 4, rows=rows(2, 0)) is None


@pytest.mark.parametrize(("past", "looks"), [(0, 1), (1, 5), (3, 3)])
def test_more_looks_and_fewer_past_give_lower_bounds(past, looks):
    assert exact_upper_bound(past, looks + 1) < exact_upper_bound(past, looks) or past == looks
    assert exact_upper_bound(looks, looks) == 1.0
    assert exact_upper_bound(0, 0) == 1.0
