"""Days of fitting in the table of parts that the drains contradict."""

import polars as pl
import pytest

DRAINS = [
    {"drained_on": "2026-01-10", "oil_hours": "10", "spring_hours": "50"},
    {"drained_on": "2026-02-10", "oil_hours": "12", "spring_hours": "62"},
    {"drained_on": "2026-03-10", "oil_hours": "9", "spring_hours": "71"},
    {"drained_on": "2026-04-10", "oil_hours": "11", "spring_hours": "82"},
]
SPRING = {"unit_id": "F07", "part": "Spring", "fitted_on": "2026-01-10", "fitted_at_h": "50", "max_hours": "400"}


def asked(log) -> list[tuple]:
    found = log.asked.filter(pl.col("source") == "parts.csv")
    return found.select("line", "column", "value", "message").rows()


def fresh(*spring_hours: str | None, **more: str) -> list[dict]:
    """The drains with other hours on the spring; more : new parts by day."""
    hours = [*spring_hours, *[row["spring_hours"] for row in DRAINS[len(spring_hours) :]]]
    return [
        row | {"spring_hours": one, "new_parts": more.get(f"on_{row['drained_on'][5:7]}")}
        for row, one in zip(DRAINS, hours, strict=True)
    ]


def test_tables_that_agree_raise_no_question(check):
    log = check(*DRAINS, parts=[SPRING])
    assert asked(log) == []
    assert not log.accepted["drains"]["spring_in_question"].any()
    assert log.accepted["parts"]["fitted_at_h"].to_list() == [50.0]


def test_a_spring_that_the_drains_have_as_new_later(check):
    log = check(*fresh("50", "62", "9", "20", on_03="new spring"), parts=[SPRING])
    said = "is before the new Spring of the drain of 2026-03-10: write when the one that runs now was fitted"
    assert asked(log) == [(2, "fitted_on", "2026-01-10", said)]
    assert log.accepted["drains"]["spring_in_question"].all()
    assert log.accepted["parts"]["fitted_at_h"].to_list() == [50.0], "the longer hours count"


@pytest.mark.parametrize("day", ["2026-02-10", "2026-02-20", "2026-03-10"])
def test_a_spring_fitted_in_the_fill_at_whose_drain_it_is_named_is_that_one(check, day):
    row = SPRING | {"fitted_on": day, "fitted_at_h": None}
    hours = {"2026-02-10": ("9", "20"), "2026-02-20": ("4", "15"), "2026-03-10": ("71", "11")}[day]
    assert asked(check(*fresh("50", "62", *hours, on_03="Feder neu"), parts=[row])) == []


@pytest.mark.parametrize("part, word", [("seals", "Seal kit"), ("Bushes", "bush, seals"), ("Feder", "spring")])  # noqa: PT006
def test_any_part_that_is_named_as_new_later(check, part, word):
    rows = [row | {"spring_hours": None} for row in fresh(on_04=word)]
    (question,) = asked(check(*rows, parts=[SPRING | {"part": part}]))
    assert f"is before the new {part} of the drain of 2026-04-10" in question[-1]
    assert asked(check(*rows, parts=[SPRING | {"part": "cartridge", "fitted_at_h": None}])) == []


def test_only_the_newest_fitting_of_a_part_is_compared(check):
    newer = SPRING | {"fitted_on": "2026-02-10", "fitted_at_h": None}
    log = check(*fresh("50", "62", "9", "20", on_03="spring"), parts=[SPRING, newer])
    assert asked(log) == []


def test_hours_on_the_spring_that_the_drains_have_as_longer_count(check):
    log = check(*DRAINS, parts=[SPRING | {"fitted_at_h": "5"}])
    said = "makes it 37 h by the drain of 2026-04-10, where hours on the spring are 82: correct the wrong one"
    assert [message.replace(".0", "") for _, _, _, message in asked(log)] == [said]
    assert log.accepted["parts"]["fitted_at_h"].to_list() == [50.0]
    assert log.accepted["drains"]["spring_in_question"].all()


def test_hours_on_the_spring_that_the_drains_have_as_shorter_do_not(check):
    log = check(*fresh("50", "62", "71", "30"), parts=[SPRING])
    assert "where hours on the spring are 30" in asked(log)[0][-1]
    assert log.accepted["parts"]["fitted_at_h"].to_list() == [50.0]


def test_a_fill_of_unknown_hours_leaves_open_how_old_a_spring_is(check):
    minutes = DRAINS[2] | {"oil_hours": "750"}
    assert asked(check(*DRAINS[:2], minutes, DRAINS[3], parts=[SPRING])) == []
    assert asked(check(*DRAINS[:2], DRAINS[3], parts=[SPRING])) != [], "a row that is missing leaves nothing open"


def test_a_spring_fitted_after_the_last_drain_that_states_its_hours_is_not_compared(check):
    assert asked(check(*DRAINS, parts=[SPRING | {"fitted_on": "2026-05-01", "fitted_at_h": None}])) == []
    assert asked(check(*fresh(None, None, None, None), parts=[SPRING | {"fitted_at_h": "900"}])) == []
