"""Ratings: levels, ranges, the shop's words, and what is no rating."""

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.reading.cleaning.rating_cells import read_rating, read_ratings


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("3", 3, 3),
        (" 3 ", 3, 3),
        ("3.0", 3, 3),
        ("2-3", 2, 3),
        ("2–3", 2, 3),
        ("2 - 3", 2, 3),
        ("2/3", 2, 3),
        ("2 to 3", 2, 3),
        ("3-2", 2, 3),
        ("1-5", 1, 5),
        ("4/5", 4, 5),
        ("~3", 3, 3),
    ],
)
def test_levels_and_ranges(text: str, low: int, high: int) -> None:
    read = read_rating(text, {})
    assert (read.low, read.high, read.reason) == (low, high, None)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("0", "not clean"),
        ("6", "not on the scale"),
        ("2.5", "not a whole number"),
        ("2,5", "not a whole number"),
        ("0-1", "not on the scale"),
        ("3-7", "not on the scale"),
        ("3/5", "3 out of 5 or a range"),
        ("grey", "map the word in the settings"),
        ("2026-03-02 00:00:00", "looks like a date"),
        ("02-Mar", "looks like a date"),
        ("-1", "is no rating"),
        ("3+", "is no rating"),
    ],
)
def test_what_is_no_rating(text: str, reason: str) -> None:
    read = read_rating(text, {})
    assert (read.low, read.high) == (None, None)
    assert reason in str(read.reason)


@pytest.mark.parametrize("text", ["", " ", "-", "?", "n/a"])
def test_a_blank_is_not_rated_and_not_clean(text: str) -> None:
    read = read_rating(text, {})
    assert (read.low, read.high, read.reason) == (None, None, None)


def test_words_count_only_where_the_settings_map_them() -> None:
    read = read_rating("Grey", {"grey": "3-4"})
    assert (read.low, read.high) == (3, 4)
    assert "as the settings say" in str(read.note)
    assert "mapped to 'dirty'" in str(read_rating("grey", {"grey": "dirty"}).reason)
    assert "read as not rated" in str(read_rating("grey", {"grey": ""}).note)


@given(st.lists(st.one_of(st.none(), st.text(max_size=6), st.integers(-2, 8).map(str)), max_size=10))
def test_any_text_is_on_the_scale_or_has_a_reason_or_is_blank(texts: list[str | None]) -> None:
    read = read_ratings(pl.Series(texts, dtype=pl.String), {})
    assert read.height == len(texts)
    rated = read.drop_nulls("low")
    assert (rated["low"] <= rated["high"]).all()
    assert rated["low"].is_between(1, 5).all()
    assert rated["high"].is_between(1, 5).all()
    assert rated["reason"].is_null().all()
