"""Columns with headers that nobody knows, but with cells that say what they are."""

import pytest

from draincurve.schemas.settings import Settings

KINDS = ("oil", "Top up", "oil + seals", "rebuild", "oil", "bleed")


def rows(header: str, cells) -> list[dict]:
    return [{"drained_on": f"2026-0{month}-04", header: cell} for month, cell in enumerate(cells, 1)]


def test_kinds_of_service_under_another_header_are_asked_about(check) -> None:
    [question] = check(*rows("Work done", KINDS)).asked.filter(column="service_kind").rows(named=True)
    assert question["message"].startswith("column 'Work done' is not used, and has cells such as 'Top up'")
    given = Settings(headers={"service_kind": ["Work done"]})
    log = check(*rows("Work done", ("oil", "Top up", "oil", "rebuild")), settings=given)
    assert log.asked.filter(column="service_kind").is_empty()
    assert log.accepted["drains"]["service_kind"].to_list() == ["oil", "top-up", "oil", "rebuild"]


@pytest.mark.parametrize(
    "cells", [("oil", "oil", "oil change"), ("top", "bottom", "side", "side"), ("mud", "sand", "hard"), (None, None)]
)
def test_other_unknown_columns_are_only_noted(check, cells) -> None:
    log = check(*rows("Where", cells))
    assert log.asked.filter(column="service_kind").is_empty()
    assert "column 'Where' is not known and is not used" in log.notes["message"].to_list()


def test_a_column_of_service_kinds_is_not_sought_where_there_is_one(check) -> None:
    log = check(*[row | {"service_kind": "oil"} for row in rows("Work done", KINDS)])
    assert log.asked.filter(column="service_kind").is_empty()


def hours(pairs, minutes: str = "Minutes", **more) -> list[dict]:
    return [
        {"drained_on": f"2026-0{month}-04", "Hours": left, minutes: right} | more
        for month, (left, right) in enumerate(pairs, 1)
    ]


@pytest.mark.parametrize("header", ["Minutes", "min", "Mins.", "Minuten", "mn"])
def test_minutes_beside_whole_hours_are_read_with_them(check, header: str) -> None:
    log = check(*hours([("12", "30"), ("9", "5"), ("11", None)], header), without=("oil_hours",))
    assert log.accepted["drains"].sort("line")["oil_hours"].to_list() == [12.5, 9 + 5 / 60, 11.0]
    assert f"columns 'Hours' and '{header}' are read together, as hours and minutes" in log.notes["message"].to_list()


@pytest.mark.parametrize(
    "pairs", [[("12.5", "30"), ("9", "5")], [("12", "75"), ("9", "5")], [(None, "30"), ("9", "5")]]
)
def test_minutes_that_do_not_belong_to_the_hours_are_not_used(check, pairs) -> None:
    log = check(*hours(pairs), without=("oil_hours",))
    assert "column 'Minutes' is not known and is not used" in log.notes["message"].to_list()
    known = [float(left) for left, _ in pairs if left]
    assert sorted(log.accepted["drains"]["oil_hours"].to_list()) == sorted(known)


def test_minutes_elsewhere_are_not_used(check) -> None:
    apart = [{"Minutes": "30"} | row for row in hours([("12", None), ("9", None)], "Pressure")]
    log = check(*apart, without=("oil_hours",))
    assert log.accepted["drains"].sort("line")["oil_hours"].to_list() == [12.0, 9.0]
