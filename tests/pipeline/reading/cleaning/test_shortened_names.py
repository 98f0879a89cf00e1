"""Initials, and names the other way round, may be a person of the log; other people are left alone."""

import pytest

from draincurve.pipeline.reading.cleaning.shortened_names import shortened_kinds, shortened_names


@pytest.mark.parametrize("short", ["T. Wend", "T Wend", "TW", "T.W.", "Tarek W.", "Wend, T.", "Wend Tarek"])
def test_a_short_form_may_be_the_person(short: str) -> None:
    assert shortened_names(["Tarek Wend", short, "Ana Brask"]) == (("Tarek Wend", short),)


def test_a_short_form_may_be_each_of_several_people() -> None:
    pairs = shortened_names(["Tarek Wend", "Tom Walz", "TW"])
    assert pairs == (("Tarek Wend", "TW"), ("Tom Walz", "TW"))


def test_a_letter_is_asked_about_where_one_name_begins_with_it() -> None:
    assert shortened_names(["Brask", "Tevik", "B"]) == (("Brask", "B"),)
    assert shortened_names(["Brask", "Bolt", "B"]) == ()


@pytest.mark.parametrize(
    "names",
    [("Tarek Wend", "Tom Wend"), ("A", "B", "AB"), ("TW", "WT"), ("Group 1", "Group 12"), ("Rider A", "Rider B"),
     ("Al", "Alan"), ("Tarek Wend", "Wend Tom")],
)  # fmt: skip
def test_other_people_are_left_alone(names: tuple[str, ...]) -> None:
    assert shortened_names(names) == ()


@pytest.mark.parametrize("column", ["rider", "rated_by"])
def test_a_short_form_is_proposed_and_kept_apart(check, column: str) -> None:
    names = ("Tarek Wend", "T. Wend", "Tarek Wend")
    log = check(*({column: name, "drained_on": f"2026-0{day}-04"} for day, name in enumerate(names, 1)))
    assert log.asked.select("column", "message").rows() == [
        (column, "are 'T. Wend' and 'Tarek Wend' one? They count as two until you answer")
    ]


def test_oils_and_springs_of_one_number_may_be_one_by_a_short_word() -> None:
    assert shortened_kinds(["Plain 46", "Pl. 46", "P46"]) == (
        *(("Plain 46", "Pl. 46"), ("Plain 46", "P46")),
        ("Pl. 46", "P46"),
    )
    assert shortened_kinds(["Plain 46", "P44", "Progressive 46", "Stiff 46", "46", "Plain"]) == ()


def test_a_short_form_of_an_oil_is_proposed(check) -> None:
    more = [{"oil_grade": "Fork 5", "drained_on": f"2026-0{month}-04"} for month in (1, 2)]
    log = check(*more, {"oil_grade": "F5"})
    assert log.asked["message"].to_list() == ["are 'F5' and 'Fork 5' one? They count as two until you answer"]
