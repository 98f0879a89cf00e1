"""Cells that name two riders, or two raters, of the log are asked about."""

import tomllib

import pytest

from draincurve.schemas.settings import Settings


@pytest.mark.parametrize("column", ["rider", "rated_by"])
@pytest.mark.parametrize(
    "cell", ["Tevik+Brask", "Tevik / Brask", "Tevik & Brask", "Tevik, Brask", "Tevik and Brask", "Brask -> Tevik"]
)
def test_two_people_in_one_cell_are_asked_about(check, column: str, cell: str) -> None:
    rows = [
        {column: name, "drained_on": f"2026-0{month}-04"} for month, name in enumerate(("Tevik", "Brask", "Ollin"), 1)
    ]
    both = {column: cell, "drained_on": "2026-08-04"}
    log = check(*rows, both)
    assert log.held_back_count == 0
    assert log.asked.select("line", "column", "value").rows() == [(5, column, cell)]
    assert "'Tevik'" in log.asked["message"].item()
    assert tomllib.loads(log.asked["setting"].item()) == {"words": {column: {cell: ""}}}
    assert log.accepted["drains"].sort("line")["people_in_question"].to_list() == [False] * 3 + [True]
    for answered in (
        check(*rows, both, settings=Settings(words={column: {cell.casefold(): "Brask"}})),
        check(*rows, both, settings=Settings(words={column: {cell.casefold(): cell}})),
        check(*rows, both | {"confirmed": "yes"}),
    ):
        assert answered.asked.height == 0
        assert not answered.accepted["drains"]["people_in_question"].any()


def test_two_people_stay_two_however_often_they_share_a_drain(check) -> None:
    days = iter(range(1, 28))
    names = ["Tevik"] * 2 + ["Brask"] * 3 + ["Tevik/Brask"] * 7
    log = check(*[{"rider": name, "drained_on": f"2026-03-{next(days):02d}"} for name in names])
    assert log.accepted["drains"]["people_in_question"].sum() == 7


@pytest.mark.parametrize("name", ["Tevik", "Al-Amin", "O'Brask", "Brask Tevik"])
def test_one_name_is_not_asked_about(check, name: str) -> None:
    log = check({"rider": name}, {"rider": "Ollin", "drained_on": "2026-03-09"})
    assert not log.accepted["drains"]["people_in_question"].any()


def test_a_second_rating_by_two_raters_is_asked_about(check) -> None:
    others = [{"rated_by": name, "drained_on": f"2026-0{day}-11"} for day, name in enumerate(("Tevik", "Brask"), 1)]
    log = check(*others, {"rated_by": "Ollin"}, {"rated_by": "Tevik & Brask", "colour_rating": "3"})
    assert log.second_ratings.height == 1
    assert log.asked.select("line", "column").rows() == [(5, "rated_by")]
