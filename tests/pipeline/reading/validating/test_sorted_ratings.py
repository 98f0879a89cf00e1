"""A column of ratings that was sorted by itself is asked about and not known until then."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

QUESTION = "was the column sorted alone?"


def rows(*, by_unit: bool = False, seed: int = 1, count: int = 40) -> list[dict]:
    rng = np.random.default_rng(seed)
    first = date(2026, 1, 2)
    return [
        {
            "unit_id": f"F{at // 10 if by_unit else at % 4}",
            "drained_on": str(first + timedelta(days=3 * (at % 10) if by_unit else at)),
            "oil_hours": f"{rng.uniform(8, 22):.1f}",
            "colour_rating": str(rng.integers(1, 6)),
            "debris_rating": str(rng.integers(1, 5)),
        }
        for at in range(count)
    ]


def with_sorted(log: list[dict], column: str, *, reverse: bool = False) -> list[dict]:
    cells = sorted((row[column] for row in log), reverse=reverse)
    return [row | {column: cell} for row, cell in zip(log, cells, strict=True)]


def asked(log) -> list[str]:
    found = log.asked.filter(log.asked["message"].str.contains(QUESTION, literal=True))
    return found["column"].to_list()


@pytest.mark.parametrize("reverse", [False, True])
@pytest.mark.parametrize("by_unit", [False, True])
@pytest.mark.parametrize("column", ["colour_rating", "debris_rating"])
def test_a_column_in_order_beside_dates_or_units_in_order(check, column: str, by_unit: bool, reverse: bool) -> None:
    typed = with_sorted(rows(by_unit=by_unit), column, reverse=reverse)
    log = check(*typed)
    assert asked(log) == [column]
    low = column.replace("rating", "low")
    assert log.accepted["drains"][low].null_count() == len(typed)
    confirmed = check(*[row | {"confirmed": "yes"} for row in typed])
    assert asked(confirmed) == []
    assert confirmed.accepted["drains"][low].null_count() == 0


def test_a_file_that_was_sorted_by_its_ratings_as_a_whole_is_right(check) -> None:
    assert asked(check(*sorted(rows(), key=lambda row: row["colour_rating"]))) == []


def test_ratings_that_are_nearly_all_one_may_be_in_order(check) -> None:
    levels = ["2"] * 38 + ["3", "4"]
    assert asked(check(*[row | {"colour_rating": one} for row, one in zip(rows(), levels, strict=True)])) == []
    assert all(
        asked(check(*rows(seed=seed, by_unit=by_unit))) == [] for seed in range(5) for by_unit in (False, True)
    )
