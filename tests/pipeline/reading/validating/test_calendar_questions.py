"""Fills whose hours the calendar hardly allows."""

import pytest


def questions(log) -> list[tuple[int, str]]:
    asked = log.asked.filter(log.asked["column"].is_in(["drained_on", "oil_hours"])).select("line", "message").rows()
    return [(line, message) for line, message in asked if "the drain before" in message or "another rater" in message]


def looked(check, *, after="2026-03-05", hours="9.5", by="Kern", **more):
    first = {"drained_on": "2026-03-04", "oil_hours": "9.5", "rated_by": "Ulm"}
    return check(first, {"drained_on": after, "oil_hours": hours, "rated_by": by, **more})


def test_a_second_look_the_next_morning_is_asked_about_and_its_hours_are_in_question(check):
    log = looked(check)
    said = (
        "the same hours as line 2 a day or two before, by another rater. One oil: write its date here. Two changes "
        "of oil: write yes in a column headed confirmed"
    )
    assert questions(log) == [(3, said)]
    assert log.accepted["drains"]["hours_in_question"].to_list() == [False, True]
    assert log.accepted["drains"]["cautious_hours"].to_list() == [None, 9.5]


@pytest.mark.parametrize(
    "other", [{"by": "Ulm"}, {"hours": "9"}, {"after": "2026-03-07"}, {"confirmed": "yes"}, {"after": "2026-03-04"}]
)
def test_an_ordinary_second_fill_is_not_asked_about(check, other):
    log = looked(check, **other)
    assert questions(log) == []


@pytest.mark.parametrize(("hours", "after", "asked"), [("22", "2026-03-05", True), ("12", "2026-03-05", False)])
def test_more_hours_a_day_than_anybody_rides_are_asked_about(check, hours, after, asked):
    log = looked(check, hours=hours, after=after, by="Ulm")
    assert [line for line, _ in questions(log)] == ([3] if asked else [])
    if asked:
        assert questions(log)[0][1].startswith(
            "22.0 h a day since the drain before, in line 2: check hours and date."
        )


@pytest.mark.parametrize(
    ("first", "second", "asked"), [("9", "17.5", True), ("12", "0.5", False), ("5", "5.5", False)]
)
def test_two_long_fills_of_one_day_are_probably_one(check, first, second, asked):
    rows = [{"drained_on": f"2026-0{month}-04", "oil_hours": "10"} for month in (1, 2)]
    log = check(*rows, *[{"drained_on": "2026-03-04", "oil_hours": hours} for hours in (first, second)])
    said = f"{float(second)} h, and {float(first)} h at the drain of the same day in line 4: is it one drain?"
    found = [(line, text) for line, text in log.asked.select("line", "message").rows() if "same day" in text]
    assert [(line, text.startswith(said)) for line, text in found] == ([(5, True)] if asked else [])
    drains = log.accepted["drains"].sort("line")
    if asked:
        assert drains["hours_in_question"].to_list() == [False, False, True, True]
        assert drains["cautious_hours"].to_list() == [None, None, float(first), float(second)]


def test_a_top_up_is_no_drain_before(check):
    log = looked(check, hours="22", after="2026-03-05", by="Ulm", service_kind="top-up")
    assert questions(log) == []


@pytest.mark.parametrize(("after", "proposal"), [("2026-06-05", None), ("2026-06-24", "15")])
def test_hours_that_the_days_do_not_hold_are_not_proposed(check, after, proposal):
    rows = [{"drained_on": f"2026-0{month}-04", "oil_hours": "15"} for month in (1, 2, 3, 4, 5, 6)]
    log = check(*rows, {"drained_on": after, "oil_hours": "150"})
    asked = log.asked.filter(log.asked["column"] == "oil_hours")
    assert asked.select("line", "proposal").rows() == [(8, proposal)]
