"""Cells that name two units, oils or springs are held back; names that only look so are names."""

import tomllib

import pytest

from draincurve.pipeline.reading.cleaning.two_names import cells_of_two_names
from draincurve.schemas.settings import Settings


@pytest.mark.parametrize(
    ("column", "known", "cell", "proposal"),
    [
        ("unit_id", ("F01", "F02"), "F01/F02", None),
        ("unit_id", ("F01", "F02"), "F01=F02", None),
        ("unit_id", ("F01", "F02"), "F01 / F02", None),
        ("unit_id", ("F01", "F02"), "F01+F02", None),
        ("unit_id", ("F01", "F02"), "f01 & f02", None),
        ("unit_id", ("F01", "F02"), "F01 and F02", None),
        ("unit_id", ("F01", "F02"), "F-01 & F02", None),
        ("unit_id", ("F01", "F02"), "F02, F01", None),
        ("unit_id", ("F01", "F02"), "F01 und F02", None),
        ("unit_id", ("F01", "F02"), "F01, F02", None),
        ("unit_id", ("F01", "F02"), "F01/02", None),
        ("unit_id", ("F01", "F03"), "F01/F02", None),
        ("unit_id", ("F01", "F02"), "F01 - F02", None),
        ("spring_type", ("Linear 44", "Stepped 46"), "Linear 44 -> Stepped 46", "Linear 44"),
        ("spring_type", ("Plain",), "Linear 44 → Stepped 46", "Linear 44"),
        ("spring_type", ("0.44", "0.46"), "0.44/0.46", None),
        ("spring_type", ("Linear 44", "Stepped 46"), "Linear 44 then Stepped 46", None),
        ("oil_grade", ("Fork 5", "Fork 7"), "Fork 5 / Fork 7", None),
        ("oil_grade", ("Fork 5", "Fork 7"), "fork 5/7", None),
        ("oil_grade", ("Fork 5", "Fork 7"), "Fork 5 => Fork 7", "Fork 5"),
        ("oil_grade", ("5W", "7.5W"), "5W/7.5W", None),
    ],
)
def test_two_names_in_one_cell_are_held_back(check, column: str, known, cell: str, proposal: str | None) -> None:
    rows = [{column: name, "drained_on": f"2026-0{month}-04"} for month, name in enumerate(known * 2, 1)]
    log = check(*rows, {column: cell, "drained_on": "2026-08-04"})
    assert log.held_back.select("column", "value").rows() == [(column, cell)]
    assert "in one cell" in log.held_back["reason"].item()
    assert log.reasons["proposal"].to_list() == [proposal]
    assert set(tomllib.loads(log.reasons["setting"].item())["words"][column].values()) == {""}
    assert set(log.accepted["drains"][column]) == set(known)


@pytest.mark.parametrize(
    ("column", "cell"),
    [("unit_id", "F01 and F02"), ("spring_type", "Linear 44 -> Stepped 46"), ("oil_grade", "Fork 5 / Fork 7")],
)
def test_the_settings_say_that_it_is_one_name(check, column: str, cell: str) -> None:
    names = {"unit_id": ("F01", "F02"), "spring_type": ("Linear 44", "Stepped 46"), "oil_grade": ("Fork 5", "Fork 7")}
    rows = [{column: name, "drained_on": f"2026-0{month}-04"} for month, name in enumerate((*names[column], cell), 1)]
    assert check(*rows).held_back_count == 1
    assert check(*rows, settings=Settings(words={column: {cell.casefold(): cell}})).held_back_count == 0


@pytest.mark.parametrize(
    "cell", ["F01-F04", "F01..04", "F01…F04", "F1 to F4", "F01 bis F04", "F01–04", "F1-4", "F01 - 04"]
)
def test_units_from_one_to_another_are_all_named(check, cell: str) -> None:
    rows = [{"unit_id": name} for name in ("F01", "F02", "F04", "F05")]
    log = check(*rows, {"unit_id": cell, "drained_on": "2026-08-04", "leak": "yes"})
    assert log.held_back["value"].to_list() == [cell]
    assert "4 units in one cell, 'F01', 'F02', 'F03' and 'F04': write a row" in log.held_back["reason"].item()
    assert log.legible["drains"]["unit_key"].to_list() == ["F01", "F02", "F03", "F04"], "its leak may be of each"


@pytest.mark.parametrize(
    "times",
    [
        {"F01-04": 1, "F01": 9, "F02": 9},
        {"12-3": 1, "12": 9},
        {"F01-F04": 6, "F01": 5, "F04": 5},
        {"F01-F98": 1, "F01": 5},
        {"2019-2024": 1},
    ],
)
def test_names_that_only_look_like_a_range(times: dict[str, int]) -> None:
    cells = cells_of_two_names(times, lambda text: text if text in times else None, column="unit_id")
    assert all(len(two.names) == 2 for two in cells.values())


@pytest.mark.parametrize(
    "times",
    [
        {"Yard A/B": 9, "Yard A": 3, "Yard B": 2},
        {"Yard A/B": 3, "Yard C": 4},
        {"F01/L": 3, "F01/R": 3},
        {"7": 1, "7/L": 2, "7/R": 1},
        {"soft/hard": 2, "soft": 1},
        {"5W/40": 1, "5W": 9},
        {"2,5W": 1, "5W": 9, "2W": 3},
        {"9.0 N/mm": 2, "9.0": 4},
        {"A+": 1, "A": 8},
        {"Fork 5 + additive": 1, "Fork 5": 9},
        {"Linear and stiff": 1, "Linear": 9},
    ],
)
def test_names_that_only_look_like_two(times: dict[str, int]) -> None:
    assert cells_of_two_names(times, lambda text: text if text in times else None) == {}


def test_a_name_of_the_register_is_one_name(check) -> None:
    log = check({"unit_id": "F01"}, {"unit_id": "F02"}, {"unit_id": "F01/F02"}, units=[{"unit_id": "F01/F02"}])
    assert log.held_back_count == 0


def test_a_ride_of_two_units_counts_for_both(check) -> None:
    usage = [{"unit_id": "F01/F02", "date": "2026-05-05", "hours": "3"}]
    log = check({"unit_id": "F01"}, {"unit_id": "F02"}, usage=usage)
    assert log.legible["usage"]["unit_key"].to_list() == ["F01", "F02"]


def test_hours_by_the_meter_do_not_count_past_a_drain_of_two_units(check) -> None:
    days = [{"unit_id": "F01", "drained_on": f"2026-0{m}-04", "meter_hours": str(10 * m)} for m in (1, 2, 3, 5)]
    rows = [row | {"oil_hours": None} for row in days]
    both = {"unit_id": "F01/F02", "drained_on": "2026-04-04", "meter_hours": "40", "oil_hours": None}
    log = check(*rows, both, {"unit_id": "F02", "drained_on": "2026-01-05"})
    of_unit = log.accepted["drains"].filter(unit_key="F01")
    assert of_unit.filter("hours_in_question").height == of_unit.filter(hours_basis="meter").height > 0
