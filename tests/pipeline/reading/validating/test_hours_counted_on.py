"""Hours that a spreadsheet counted on down the rows are asked about."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from draincurve.pipeline.reading.validating.hours_counted_on import counted_on

QUESTION = "did a spreadsheet count on?"


def rows(hours: np.ndarray, **more: str) -> list[dict]:
    first = date(2026, 1, 2)
    return [
        {"unit_id": f"F{at % 5:02d}", "drained_on": str(first + timedelta(days=at)), "oil_hours": f"{one:g}"} | more
        for at, one in enumerate(hours)
    ]


def drawn(count: int, *, seed: int, low: float = 8, high: float = 22, step: float = 0.5) -> np.ndarray:
    return np.round(np.random.default_rng(seed).uniform(low, high, count) / step) * step


@pytest.mark.parametrize("first", [8.5, 12, 11.25])
def test_the_rows_below_the_first_are_asked_about_and_can_be_confirmed(check, first: float) -> None:
    hours = drawn(40, seed=1)
    hours[20:28] = first + np.arange(8)
    log = check(*rows(hours))
    asked = log.asked.filter(log.asked["message"].str.contains(QUESTION, literal=True))
    assert asked["line"].to_list() == list(range(23, 30))
    assert log.accepted["drains"].filter(line=25)["hours_in_question"].item()
    assert not check(*rows(hours, confirmed="yes")).asked["message"].str.contains(QUESTION, literal=True).any()


@pytest.mark.parametrize("step", [0.1, 0.5, 1.0])
def test_fills_in_random_order_and_a_file_sorted_by_hours_are_none(step: float) -> None:
    for seed in range(40):
        hours = pl.Series(drawn(60, seed=seed, step=step))
        assert not counted_on(hours).any()
        assert not counted_on(hours.sort()).any()
    assert not counted_on(pl.Series(np.arange(8.0, 20.0))).any()
