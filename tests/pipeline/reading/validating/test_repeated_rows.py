"""Rows about the same thing: copies, contradictions, and one drain rated by several people."""

from dataclasses import replace

import polars as pl
import pytest

from draincurve.schemas.settings import Settings


def reasons(log) -> dict[int, str]:
    return dict(log.held_back.select("line", "reason").iter_rows())


def test_a_copy_is_held_back_and_the_first_is_kept(check) -> None:
    log = check({}, {}, {"unit_id": " F07 "}, {"drained_on": "2026-05-01"})
    assert log.accepted["drains"]["line"].to_list() == [2, 5]
    assert reasons(log) == {
        3: "is a copy of line 2: delete one of the two",
        4: "is a copy of line 2: delete one of the two",
    }


def test_rows_that_contradict_each_other_are_both_held_back(check) -> None:
    log = check({"colour_rating": "2"}, {"colour_rating": "4"}, {"oil_hours": "13"})
    assert log.accepted["drains"]["line"].to_list() == [4]
    assert "as line 3, but differs" in reasons(log)[2]
    assert "as line 2, but differs" in reasons(log)[3]


def test_unreadable_cells_are_compared_as_typed(check) -> None:
    log = check({"colour_rating": "grey"}, {"colour_rating": "brown"}, {"colour_rating": "grey"})
    assert log.accepted["drains"].is_empty()
    assert "as line 3, but differs" in reasons(log)[2]
    assert "is a copy of line 2" in reasons(log)[4]


def test_meter_readings_stand_in_for_hours(check) -> None:
    log = check({"oil_hours": None, "meter_hours": "100"}, {"oil_hours": None, "meter_hours": "100.0"})
    assert reasons(log) == {3: "is a copy of line 2: delete one of the two"}


def test_a_register_entry_twice_is_not_guessed_at(check) -> None:
    rows = [{"unit_id": "F07", "max_interval_h": "20"}, {"unit_id": "F07", "max_interval_h": "30"}]
    log = check({}, units=rows)
    assert log.accepted["units"].is_empty()
    log = check({}, units=[rows[0], rows[0]])
    assert log.accepted["units"]["max_interval_h"].to_list() == [20.0]


@pytest.mark.parametrize("table", ["usage", "bookings"])
def test_riding_twice_on_a_day_counts_twice_and_is_asked_about(check, messages, table: str) -> None:
    row = {"unit_id": "F07", "date": "2026-03-05", "hours": "2"}
    log = check({}, **{table: [row, row]})
    assert log.accepted[table]["hours"].to_list() == [2.0, 2.0]
    assert messages(log, "unit_id") == ["is the same as line 2: is it a copy? Both are counted"]


A, B, C = {"rated_by": "KB"}, {"rated_by": "TW", "colour_rating": "3"}, {"rated_by": "MO", "debris_rating": "4"}


def test_a_second_rating_is_set_aside_and_counted_as_accepted(check, messages) -> None:
    log = check(A, B, C | {"note": "by lamp light"}, {"unit_id": "F08"})
    assert log.held_back.is_empty()
    assert log.accepted["drains"]["rated_by"].to_list() == ["KB", None]
    assert log.second_ratings["rated_by"].to_list() == ["TW", "MO"]
    assert log.second_ratings["drain_line"].to_list() == [2, 2]
    assert log.second_ratings["colour_low"].to_list() == [3, 2]
    assert (log.accounts[0].read, log.accounts[0].accepted) == (4, 4)
    assert len([text for text in messages(log, "rated_by") if "line 2" in text]) == 2


def test_the_reference_rater_s_row_is_the_drain(check) -> None:
    log = check(A, B, C, settings=replace(Settings(), reference_rater="t.w."))
    assert log.accepted["drains"].select("rated_by", "colour_low").rows() == [("TW", 3)]
    assert log.second_ratings["rated_by"].to_list() == ["KB", "MO"]
    assert log.second_ratings["drain_line"].to_list() == [3, 3]


def test_a_row_that_shows_a_sign_stays_the_drain_before_the_reference_rater_s(check) -> None:
    log = check(A | {"debris_rating": "5"}, B, settings=replace(Settings(), reference_rater="TW"))
    assert log.accepted["drains"]["rated_by"].to_list() == ["KB"]


@pytest.mark.parametrize(
    "second",
    [
        {"rated_by": "KB", "colour_rating": "3"},  # nobody is their own second rater
        {"rated_by": None, "colour_rating": "3"},  # unknown raters compare nobody
        B | {"oil_grade": "7W"},  # something else differs: a contradiction
        B | {"settle_hours": "24"},  # another test
        B | {"leak": "yes"},
    ],
)
def test_rows_that_differ_otherwise_stay_contradictions(check, second) -> None:
    log = check(A, second)
    assert log.held_back.height == 2
    assert log.second_ratings.is_empty()


def test_rows_that_rate_different_channels_compare_nothing(check) -> None:
    log = check(A | {"debris_rating": None}, B | {"colour_rating": None})
    assert log.held_back.height == 2


def test_the_row_that_saw_flakes_stays_the_drain(check) -> None:
    log = check(A, {"rated_by": "TW", "debris_rating": "5"})
    assert log.accepted["drains"]["debris_low"].to_list() == [5]
    assert log.second_ratings["drain_line"].to_list() == [3]


def test_a_second_rating_that_cannot_be_read_is_no_second_rating(check) -> None:
    log = check(A, {"rated_by": "TW", "colour_rating": "9"})
    assert log.second_ratings.is_empty()
    assert log.accounts[0].read == log.accounts[0].accepted + log.accounts[0].held_back == 2


def test_hard_limits_hold_back_the_row_that_breaks_them_and_no_other(check) -> None:
    """Second ratings leave gaps in the numbers of the rows that stay."""
    beyond = {"unit_id": "F09", "filled_ml": "400", "drained_ml": "600"}
    log = check(A, B, C, {"unit_id": "F08"}, beyond, {"unit_id": "F10"})
    assert log.held_back.select("line", "column", "value").rows() == [(6, "drained_ml", "600")]
    assert log.accepted["drains"]["unit_id"].to_list() == ["F07", "F08", "F10"]


def test_the_meter_sees_one_drain_only(check) -> None:
    log = check(
        {"drained_on": "2026-02-01", "meter_hours": "100", "oil_hours": "10"},
        A | {"meter_hours": "112"},
        B | {"meter_hours": "112"},
    )
    assert log.accepted["drains"].height == 2
    assert log.remarks.filter(pl.col("column") == "meter_hours").is_empty()


def test_two_raters_whose_ratings_cannot_be_read_are_not_told_to_delete_one(check):
    log = check({"rated_by": "Ulm", "colour_rating": "3--"}, {"rated_by": "Kern", "colour_rating": "4--"})
    repeats = [reason for reason in log.reasons["message"] if "same unit, date and hours" in reason]
    assert len(repeats) == 2
    assert all(reason.endswith("in rater and ratings only, and these must be readable") for reason in repeats)
    named = log.reasons.filter(pl.col("message").is_in(repeats))
    assert named.select("column", "value").rows() == [("colour_rating", "3--"), ("colour_rating", "4--")]


def test_two_ratings_that_differ_in_something_else_name_it(check):
    log = check(A, B | {"oil_grade": "7W"})
    assert log.reasons.select("column", "value").rows() == [("oil_grade", "5W"), ("oil_grade", "7W")]
