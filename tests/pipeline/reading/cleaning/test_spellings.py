"""Spellings that are one, and those that are only asked about."""

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.reading.cleaning.spelling_keys import spelling_key
from draincurve.pipeline.reading.cleaning.spellings import common_spellings


@pytest.mark.parametrize(
    ("first", "second"),
    [("F07", "f-07"), ("F07", "f 07"), ("F07", "F_07"), ("5W", "5 w"), ("2.5W", "2,5w"), ("O'Brien", "obrien")],
)
def test_case_spaces_and_punctuation_do_not_count(first: str, second: str) -> None:
    assert spelling_key(first) == spelling_key(second)


@pytest.mark.parametrize(
    ("first", "second"), [("2.5W", "25W"), ("7-1", "71"), ("7-1", "7.1"), ("A+", "A"), ("F07", "F7"), ("???", "!!!")]
)
def test_what_tells_names_apart(first: str, second: str) -> None:
    assert spelling_key(first) != spelling_key(second)


def test_commonest_spelling_is_shown_and_the_first_table_has_the_say() -> None:
    drains = pl.Series(["5 w", "5W", "5W", None])
    register = pl.Series(["5-w", "5-w", "5-w", "5-w", "10W"])
    found = common_spellings([drains, register])
    assert found.shown == {"5W": "5W", "5 w": "5W", "5-w": "5W", "10W": "10W"}
    assert found.variants == {"5W": ("5W", "5 w", "5-w")}


def test_ties_go_to_the_first_seen() -> None:
    assert common_spellings([pl.Series(["f-07", "F07"])]).shown["F07"] == "f-07"


@given(st.lists(st.text(min_size=1, max_size=10), max_size=12))
def test_settling_twice_changes_nothing(names: list[str]) -> None:
    shown = common_spellings([pl.Series(names, dtype=pl.String)]).shown
    again = common_spellings([pl.Series([shown[name] for name in names], dtype=pl.String)]).shown
    assert all(again[shown[name]] == shown[name] for name in names)
    assert set(shown) == set(names)


def test_digits_of_another_script_are_one_spelling(check) -> None:
    log = check({"unit_id": "F03"}, {"unit_id": "F٠٣", "drained_on": "2026-04-04"})
    assert log.accepted["drains"]["unit_id"].unique().to_list() == ["F03"]
    assert "'F03' and 'F٠٣' are taken as one: 'F03'" in log.notes["message"].to_list()
