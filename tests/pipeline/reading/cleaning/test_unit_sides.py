"""A column of sides is a part of the unit's name where one unit has both sides."""

import pytest


def rows(*units_and_sides: tuple[str, str | None], header: str = "Side") -> list[dict]:
    return [
        {"unit_id": unit, header: side, "drained_on": f"2026-03-{day:02d}"}
        for day, (unit, side) in enumerate(units_and_sides, 1)
    ]


@pytest.mark.parametrize(
    ("header", "left", "right"),
    [
        *(("Side", "L", "R"), ("L/R", "L", "R"), ("Seite", "links", "rechts")),
        *(("Side", "left", "right"), ("Side", "front", "rear")),
    ],
)
def test_each_side_is_a_unit(check, header: str, left: str, right: str) -> None:
    log = check(*rows(("1", left), ("1", right), ("2", left), ("1", left), ("2", right), header=header))
    assert sorted(log.accepted["drains"]["unit_id"].unique()) == sorted(
        [f"1 {left}", f"1 {right}", f"2 {left}", f"2 {right}"]
    )
    said = f"column '{header}' is read as a part of the unit's name: each side is a unit of its own"
    assert said in log.notes["message"].to_list()


def test_a_row_without_a_side_keeps_its_unit(check) -> None:
    sides = [("1", "L"), ("1", "R")] * 4
    log = check(*rows(*sides, ("2", None)))
    assert sorted(log.accepted["drains"]["unit_id"].unique()) == ["1 L", "1 R", "2"]


@pytest.mark.parametrize(
    "units_and_sides",
    [
        [("F01L", "L"), ("F01R", "R"), ("F01L", "L")],
        [("1", "L"), ("1", "R"), ("1", "top"), ("2", "L")],
        [("1", "L"), ("1", "R"), ("1", None), ("2", None)],
        [("1", None), ("2", None)],
    ],
)
def test_other_columns_are_not_used(check, units_and_sides) -> None:
    log = check(*rows(*units_and_sides))
    assert set(log.accepted["drains"]["unit_id"]) == {unit for unit, _ in units_and_sides}
