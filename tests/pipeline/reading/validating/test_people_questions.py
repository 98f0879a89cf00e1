"""Cells that name two riders, or two raters, of the log are asked about."""

import tomllib

import pytest

from draincurve.schemas.settings import Settings

CELLS = ("Tevik+Brask", "Tevik / Brask", "Tevik & Brask", "Tevik, Brask", "Tevik and Brask", "Brask -> Tevik")
ALONE = [
    {"rider": name, "rated_by": name, "drained_on": f"2026-0{month}-04"}
    | dict.fromkeys(("colour_rating", "debris_rating"), str(month))
    for month, name in enumerate(("Tevik", "Brask", "Ollin"), 1)
]


@pytest.mark.parametrize("cell", CELLS)
def test_two_people_in_one_cell_are_asked_about(check, cell: str) -> None:
    """Of riders and of raters, each in a drain of its own; a third drain is confirmed."""
    both = [
        {"rider": cell, "rated_by": "Ollin", "drained_on": "2026-08-04"},
        {"rider": "Ollin", "rated_by": cell, "drained_on": "2026-08-24"},
        {"rider": cell, "rated_by": cell, "drained_on": "2026-09-14", "confirmed": "yes"},
    ]
    log = check(*ALONE, *both)
    assert log.held_back_count == 0
    asked = log.asked.sort("line")
    assert asked.select("line", "column", "value").rows() == [(5, "rider", cell), (6, "rated_by", cell)]
    assert all("'Tevik'" in message for message in asked["message"])
    for column, setting in asked.select("column", "setting").rows():
        assert tomllib.loads(setting) == {"words": {column: {cell: ""}}}
    in_question = log.accepted["drains"].sort("line")["people_in_question"].to_list()
    assert in_question == [False] * 3 + [True] * 2 + [False]
    for one, other in (("Brask", cell), (cell, "Brask")):
        words = {"rider": {cell.casefold(): one}, "rated_by": {cell.casefold(): other}}
        answered = check(*ALONE, *both, settings=Settings(words=words))
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
