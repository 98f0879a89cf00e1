"""Cells that hold a name of other rows and more words are asked about; names of their own are left alone."""

import pytest

from draincurve.pipeline.reading.cleaning.names_within_names import names_within
from draincurve.schemas.settings import Settings


@pytest.mark.parametrize(
    ("column", "cell", "names"),
    [
        ("rider", "Brask (Tevik on Sunday)", ("Brask", "Tevik")),
        ("rider", "Tevik 2h, Brask 8 h", ("Tevik", "Brask")),
        ("rider", "Brask Tevik", ("Brask", "Tevik")),
        ("rated_by", "BRASK first, later Tevik", ("Brask", "Tevik")),
        ("unit_id", "F09 (was F02)", ("F09", "F02")),
        ("unit_id", "F-09 ex F 02", ("F09", "F02")),
        ("unit_id", "F02 F09", ("F02", "F09")),
        ("oil_grade", "Fork 5 on top of Fork 7", ("Fork 5", "Fork 7")),
    ],
)
def test_a_cell_that_holds_several_names(column: str, cell: str, names: tuple[str, ...]) -> None:
    times = dict.fromkeys(names, 4) | {cell: 1}
    within = names_within(times, column)
    assert within.several[cell].names == names
    assert within.pairs == ()
    assert names_within(times, column, listed=frozenset([cell])) == ({}, ())
    common = names_within(times | {cell: 3}, column).several
    remark = cell in ("Brask (Tevik on Sunday)", "BRASK first, later Tevik")
    assert set(common) == ({cell} if remark else set()), "a remark beside a name makes no person of its own"


def test_a_first_name_of_several_people_may_be_each_of_them() -> None:
    several, pairs = names_within({"Ana Brask": 9, "Ana Tevik": 6, "Ollin": 7, "Ana": 1}, "rider")
    assert (several["Ana"].names, pairs) == (("Ana Brask", "Ana Tevik"), ())


@pytest.mark.parametrize(
    ("column", "cell", "name"),
    [
        ("rider", "Ollin (new)", "Ollin"),
        ("rider", "Brask jr", "Brask"),
        ("rated_by", "T. Wend", "Wend"),
        ("unit_id", "F01 new seals", "F01"),
        ("unit_id", "F 03 - loan bike", "F03"),
        ("oil_grade", "Fork 5 (new batch)", "Fork 5"),
        ("spring_type", "Plain 46 used", "Plain 46"),
    ],
)
@pytest.mark.parametrize("rare_is_longer", [True, False])
def test_a_rare_name_that_holds_a_common_one_or_is_held_by_it(column, cell, name, rare_is_longer) -> None:
    times = {cell: 1, name: 8} if rare_is_longer else {cell: 8, name: 1}
    assert names_within(times, column).pairs == ((cell, name),)


@pytest.mark.parametrize(
    ("column", "times"),
    [
        ("rider", {"Brask": 8, "Brask Senior": 6}),
        ("rider", {"Group 1": 9, "Group 12": 1}),
        ("rider", {"Guest": 9, "Guest 1": 1, "Guest 2": 1}),
        ("rider", {"Ana": 9, "Ana Brask": 1, "Ana Tevik": 1, "Ana Ollin": 2}),
        ("unit_id", {"F01": 8, "F01 L": 1}),
        ("unit_id", {"F01": 8, "F01B": 1, "F010": 1, "F01-2": 1}),
        ("unit_id", {"7": 4, "1": 4, "7-1": 1}),
        ("unit_id", {"Bike 1": 9, "Bike 1 shock": 1, "Bike 2": 9, "Bike 2 shock": 2}),
        ("oil_grade", {"Fork 5": 8, "Fork 15": 1, "Fork 2,5": 1}),
        ("oil_grade", {"Fork 5": 18, "Fork 5 Plus": 11}),
        ("spring_type", {"Coil 90": 8, "Coil 90.5": 1}),
        ("spring_type", {"46": 8, "46 N": 1}),
    ],
)
def test_names_of_their_own(column: str, times: dict[str, int]) -> None:
    assert names_within(times, column) == ({}, ())


def test_a_bare_weight_beside_one_make_is_asked_about_however_common_it_is() -> None:
    assert names_within({"Nordol 5W": 20, "5W": 15, "Nordol 10W": 9}, "oil_grade").pairs == (("Nordol 5W", "5W"),)
    assert names_within({"Nordol 5W": 20, "Vastol 5W": 20, "5 wt": 15}, "oil_grade").pairs == ()


def test_what_becomes_of_them_in_a_log(check) -> None:
    names = iter(["Brask", "Tevik"] * 4 + ["Brask (Tevik on Sunday)", "Tevik (new)"])
    days = iter(range(1, 28))
    rows = [{"rider": name, "drained_on": f"2026-03-{next(days):02d}"} for name in names]
    log = check(*rows)
    assert log.asked.filter(column="rider").select("line", "value").sort("value").rows() == [
        (10, "Brask (Tevik on Sunday)"),
        (None, "Tevik (new)"),
    ]
    assert log.accepted["drains"]["people_in_question"].sum() == 1
    assert log.people_in_one_cell["rider"] == {"Brask (Tevik on Sunday)": ("Brask", "Tevik")}
    assert log.similar_names["rider"] == (("Tevik (new)", "Tevik"),)
    own = {row["rider"].casefold(): row["rider"] for row in rows[-2:]}
    assert check(*rows, settings=Settings(words={"rider": own})).asked.filter(column="rider").is_empty()


def test_a_cell_of_two_unit_names_is_held_back_and_counts_for_both(check) -> None:
    days = iter(range(1, 28))
    rows = [
        {"unit_id": unit, "drained_on": f"2026-03-{next(days):02d}"}
        for unit in [*["F02", "F09"] * 3, "F09 (was F02)"]
    ]
    log = check(*rows)
    assert log.held_back.select("line", "column").rows() == [(8, "unit_id")]
    assert sorted(log.legible["drains"]["unit_key"]) == ["F02", "F09"]
    assert log.asked.filter(column="unit_id").is_empty()


def test_three_names_of_one_unit_are_asked_about_in_two_questions(check) -> None:
    units = [*["1"] * 4, *["01"] * 2, "001"]
    log = check(*[{"unit_id": unit, "drained_on": f"2026-03-{day:02d}"} for day, unit in enumerate(units, 1)])
    assert log.asked.filter(column="unit_id")["message"].to_list() == [
        "are '001' and '1' one? They count as two until you answer",
        "are '01' and '1' one? They count as two until you answer",
    ]
    assert len(log.similar_names["unit_id"]) == 3


def test_a_person_with_a_remark_in_brackets_is_asked_about_however_often_it_is_written() -> None:
    times = {"Brask": 7, "Brask (Milo on Sunday)": 5}
    assert names_within(times, "rider").pairs == (("Brask (Milo on Sunday)", "Brask"),)
    assert names_within({"Fork 5": 7, "Fork 5 (new)": 5}, "oil_grade").pairs == ()


def test_a_first_name_beside_one_full_name_is_asked_about_however_common_both_are() -> None:
    assert names_within({"Tarek": 8, "Tarek Wend": 7}, "rider").pairs == (("Tarek Wend", "Tarek"),)
    assert names_within({"Fork 5": 8, "Fork 5 Plus": 7}, "oil_grade").pairs == ()
