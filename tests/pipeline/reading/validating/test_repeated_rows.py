"""The same drain written twice."""

import pytest


def reasons(log) -> dict[int, str]:
    return dict(log.held_back.select("line", "reason").iter_rows())


def test_a_copy_is_held_back_and_the_first_is_kept(check) -> None:
    log = check({}, {}, {"unit_id": " F07 "}, {"drained_on": "2026-05-01"})
    assert log.accepted["drains"]["line"].to_list() == [2, 5]
    assert reasons(log) == {
        3: "is a copy of line 2: the copy is held back",
        4: "is a copy of line 2: the copy is held back",
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
    assert reasons(log) == {3: "is a copy of line 2: the copy is held back"}


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
