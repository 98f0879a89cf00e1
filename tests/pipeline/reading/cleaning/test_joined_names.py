"""Cells that name two units, springs or oils."""

import polars as pl
import pytest

from draincurve.schemas.settings import Settings


def rows(column: str, *names: str) -> list[dict]:
    return [{column: name, "drained_on": f"2026-{month:02d}-03"} for month, name in enumerate(names, 1)]


@pytest.mark.parametrize("cell", ["F01/F02", "f01 + F02", "F-01 & F02", "F02, F01", "F01 and F02", "F01 und F02"])
def test_a_drain_of_two_units_is_held_back(check, cell: str) -> None:
    log = check(*rows("unit_id", "F01", "F02", "F01", cell, "F02"))
    assert log.held_back["column"].to_list() == ["unit_id"]
    assert log.held_back["reason"].item().startswith("two units in one cell, '")
    assert log.accepted["drains"].height == 4


@pytest.mark.parametrize(
    ("column", "names", "cell"),
    [
        ("spring_type", ("Linear 44", "Stepped 46"), "Linear 44 -> Stepped 46"),
        ("spring_type", ("Linear 44", "Stepped 46"), "Linear 44 → Stepped 46"),
        ("spring_type", ("Linear 44", "Linear 44"), "Linear 44 => Stepped 48"),
        ("oil_grade", ("Fork 5", "Fork 7"), "Fork 5 / Fork 7"),
        ("oil_grade", ("Fork 5", "Fork 7"), "fork 5+fork 7"),
        ("oil_grade", ("Fork 5", "Fork 7"), "Fork 5 puis Fork 7"),
    ],
)
def test_two_springs_or_oils_are_asked_about(check, column: str, names: tuple[str, str], cell: str) -> None:
    log = check(*rows(column, *names, *names, cell))
    asked = log.remarks.filter((pl.col("kind") == "asked") & (pl.col("column") == column))
    assert asked["proposal"].drop_nulls().to_list() == [names[0]]
    assert asked["message"].str.contains("write the one that the drained fill had").any()
    assert log.accepted["drains"].height == 5
    answered = check(*rows(column, *names, *names, cell), settings=Settings(words={column: {cell: names[0]}}))
    assert answered.remarks.filter((pl.col("kind") == "asked") & (pl.col("column") == column)).height == 0


@pytest.mark.parametrize(
    ("column", "names"),
    [
        ("unit_id", ("7/L", "7/R", "7/L", "7/R")),
        ("unit_id", ("7", "7/L", "7/R", "7/L")),
        ("unit_id", ("A/B", "A", "A/B", "B")),
        ("oil_grade", ("5W/10", "5W/10", "5W/10")),
        ("rider", ("AB", "CD", "AB", "AB/CD", "CD")),
        ("spring_type", ("soft/hard", "soft/hard", "soft")),
    ],
)
def test_names_of_the_shop_with_a_mark_are_names(check, column: str, names: tuple[str, ...]) -> None:
    log = check(*rows(column, *names))
    assert not log.remarks["message"].str.contains("in one cell").any()
    assert log.held_back.height == 0
