"""Names that may be one are found, and those that differ on purpose are left alone."""

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.reading.cleaning.name_similarity import near_matches
from draincurve.pipeline.reading.cleaning.spelling_keys import spelling_key


def pairs(*names: str, column: str = "unit_id") -> set[frozenset[str]]:
    return {frozenset(pair) for pair in near_matches({spelling_key(name): name for name in names}, column)}


def near(*names: str) -> bool:
    return bool(near_matches({spelling_key(name): name for name in names}))


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("F07", "F7"),
        ("07 front", "front 07"),
        ("progressive", "progresive"),
        ("progressive", "porgressive"),
        ("linear soft", "linear sofd"),
        ("Anna", "Ana"),
        ("Bert", "Bret"),
    ],
)
def test_near_matches_are_found(first: str, second: str) -> None:
    assert near(first, second)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("F07", "F08"),
        ("5W", "10W"),
        ("Rider A", "Rider B"),
        ("Al", "Hal"),
        ("Dan", "Jan"),
        ("Anna", "Hanna"),
        ("Jon", "John"),
        ("F1-R2", "F2-R1"),
        ("42 N/mm", "44 N/mm"),
    ],
)
def test_names_that_differ_on_purpose_are_left_alone(first: str, second: str) -> None:
    assert not near(first, second)


@pytest.mark.parametrize(
    ("column", "names"),
    [
        ("unit_id", ("FO1", "F01")),
        ("unit_id", ("FO1", "F1")),
        ("unit_id", ("F0I", "F01")),
        ("unit_id", ("Fl2", "F12")),
        ("unit_id", ("S-1O", "S10")),
        ("unit_id", ("\u0421F01", "CF01")),  # a Cyrillic letter
        ("unit_id", ("\u03a701", "X01")),  # a Greek one
        ("unit_id", ("F1", "F001")),
        ("unit_id", ("F1 (left)", "F1")),
        ("unit_id", ("F1 left", "F1L")),
        ("unit_id", ("F7 rechts", "F7")),
        ("unit_id", ("F7-RH", "F7 (right)")),
        ("unit_id", ("Fork 5", "F5")),
        ("unit_id", ("Fork 05", "5")),
        ("unit_id", ("Gabel 3", "F3")),
        ("oil_grade", ("5W", "5wt")),
        ("oil_grade", ("5 W", "SAE 5")),
        ("unit_id", ("2.0", "2")),
        ("unit_id", ("F2.0", "F02")),
        ("oil_grade", ("SAE 5", "Fork 5")),
        ("oil_grade", ("Tarn SAE 5", "Tarn 5")),
        ("oil_grade", ("7.5wt", "Gabelöl 7,5")),
        ("spring_type", ("9.5 N/mm", "9.5")),
        ("spring_type", ("Progressive", "Progresive")),
        ("rider", ("Brasket", "Brasset")),
    ],
)
def test_names_that_may_be_one(column: str, names: tuple[str, str]) -> None:
    others = ("X90", "X91", "Zyxwvu")
    assert pairs(*names, *others, column=column) == {frozenset(names)}
    assert pairs(*reversed(names), *others, column=column) == {frozenset(names)}


FLEETS = {
    "numbered": [f"F{number:02d}" for number in range(1, 100)],
    "legs": [f"F{number}{side}" for number in range(1, 40) for side in "LR"],
    "legs in front": [f"{side}{number}" for number in range(1, 120) for side in "LR"],
    "legs and forks": [f"F{number}{side}" for number in range(1, 40) for side in ("", "L", "R")],
    "legs in words": [f"Fork {number} {side}" for number in range(1, 40) for side in ("left", "right")],
    "forks and shocks": [f"{kind}{number:02d}" for number in range(1, 60) for kind in ("F", "S")],
    "bare and typed": [name for number in range(1, 30) for name in (str(number), f"F{number}")],
    "ends": [f"{number:02d} {end}" for number in range(1, 60) for end in ("front", "rear")],
    "letters": [f"{first}{number}" for first in "ABCDEFGHIJKLMNOPQRSTUVWXYZ" for number in range(2, 10)],
    "years": [f"{year}-{number:02d}" for year in range(2019, 2027) for number in range(1, 30)],
}


@pytest.mark.parametrize("fleet", FLEETS)
def test_no_question_about_a_fleet_that_is_numbered_on_purpose(fleet: str) -> None:
    assert pairs(*FLEETS[fleet]) == set()


@pytest.mark.parametrize(
    ("column", "names"),
    [
        ("oil_grade", ["2.5W", "5W", "7.5W", "10W", "15W", "5W40", "Brand A 5W", "Brand B 5W", "Shock 3", "Fork 12"]),
        ("spring_type", ["Plain 44", "Plain 46", "Coated 46", "9.0 N/mm", "9.5 N/mm", "0.95"]),
        ("rider", ["Alma", "Ali", "All", "Bo", "KB", "TW", "Rider 1", "Rider 2", "Rider 11"]),
    ],
)
def test_no_question_about_names_that_differ(column: str, names: list[str]) -> None:
    assert pairs(*names, column=column) == set()


def test_a_hundred_thousand_names_and_very_long_ones_take_no_more_than_linear_time() -> None:
    """Ten times as many names, or ten times as long, take some ten times as long."""

    def seconds(names: list[str]) -> float:
        start = time.process_time()
        near_matches({spelling_key(name): name for name in names}, "unit_id")
        return time.process_time() - start

    few, many = ([f"U{number:06d}" for number in range(count)] for count in (5_000, 50_000))
    assert seconds(many) < 40 * max(seconds(few), 0.02)
    short, long = (["a" * length, "b" + "a" * length] for length in (4_000, 40_000))
    assert seconds(long) < 40 * max(seconds(short), 0.02)


@given(st.lists(st.text(alphabet="abO0lI15 -", min_size=1, max_size=8), max_size=8, unique_by=spelling_key))
def test_the_order_of_names_does_not_matter(names: list[str]) -> None:
    assert pairs(*names) == pairs(*reversed(names))


@given(st.text(alphabet="abcdefgh", min_size=6, max_size=14), st.data())
def test_every_missing_letter_is_found(name: str, data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(name) - 1))
    assert pairs(name, name[:at] + name[at + 1 :], column="rider") == {frozenset((name, name[:at] + name[at + 1 :]))}


@pytest.mark.parametrize(
    ("column", "names", "alike"),
    [
        ("oil_grade", ("25W", "2.5W"), True),
        ("oil_grade", ("25W", "2,5W"), True),
        ("spring_type", ("Plain 46", "Plain 4.6"), True),
        ("spring_type", ("Plain 46", "Stepped 4.6"), False),
        ("oil_grade", ("10W", "1W"), False),
        ("unit_id", ("F1.2", "F12"), False),
    ],
)
def test_a_decimal_point_may_be_lost_in_an_oil_or_a_spring(column, names, alike):
    assert (pairs(*names, column=column) == {frozenset(names)}) is alike


@pytest.mark.parametrize(
    ("first", "second"),
    [
        *(("José", "Jose"), ("JOSÉ", "Jose"), ("Zoë", "Zoe"), ("Müller", "Mueller"), ("Müller", "Muller")),
        *(("JÃ¼rgen", "Jürgen"), ("J&uuml;rgen", "Jürgen"), ("Ren&#233;e", "Renée"), ("Ren&#233;e", "Renee")),
    ],
)
def test_a_name_without_its_accents_or_in_a_wrong_encoding(first, second):
    assert pairs(first, second, "Brask", column="rider") == {frozenset((first, second))}


def test_a_name_without_a_side_beside_both_sides():
    assert pairs("F01", "F01 L", "F01 R", "F02 L", "F02 R") == {
        frozenset(("F01", "F01 L")),
        frozenset(("F01", "F01 R")),
    }


@pytest.mark.parametrize("typed", ["Fl", "FI", "fi"])
def test_a_letter_for_the_only_digit_of_a_unit(typed):
    assert pairs("F1", "F2", typed) == {frozenset(("F1", typed))}
    assert pairs("F1", "F2", typed, column="rider") == set()


@pytest.mark.parametrize("grade", ["SAE 5", "5W", "5 wt", "Gabelöl 5"])
def test_a_grade_beside_the_one_make_of_its_number(grade: str) -> None:
    def pairs(*names: str) -> set[frozenset[str]]:
        return {frozenset(pair) for pair in near_matches({spelling_key(name): name for name in names}, "oil_grade")}

    assert pairs(grade, "Tarn 5", "Tarn 10", "Vask 2.5") == {frozenset((grade, "Tarn 5"))}
    assert pairs(grade, "Tarn 5", "Vask 5") == pairs(grade, "Tarn 7.5") == set()


@pytest.mark.parametrize(
    ("column", "names", "times", "alike"),
    [
        ("oil_grade", ("Tarn 5", "Tarm 5"), (9, 1), True),
        ("oil_grade", ("Tarn 5", "Tarm 5"), (2, 1), True),
        ("spring_type", ("Hard 46", "Hart 46"), (4, 2), True),
        ("oil_grade", ("Tarn 5", "Tarm 5"), (40, 3), False),
        ("oil_grade", ("Tarn 5", "Tarm 5"), (1, 1), False),
        ("oil_grade", ("Tarn 5", "Tarm 7"), (9, 1), False),
        ("oil_grade", ("Mid 5", "Mie 5"), (9, 1), False),
        ("rider", ("Anna 5", "Anne 5"), (9, 1), False),
    ],
)
def test_an_oil_of_four_letters_is_a_slip_only_where_it_is_rare(column, names, times, alike) -> None:
    shown = {spelling_key(name): name for name in names}
    assert bool(near_matches(shown, column, times=dict(zip(names, times, strict=True)))) is alike
