"""Parts of a day over 1 are told from hours by their decimals."""

import numpy as np
import polars as pl
import pytest

from draincurve.pipeline.reading.validating.day_fractions import part_of_a_day

RNG = np.random.default_rng(3)
HALVES = RNG.integers(50, 90, size=20) / 2


@pytest.mark.parametrize("decimals", [3, 4, 6, 16])
@pytest.mark.parametrize("steps", [2, 4])
def test_parts_of_a_day(decimals: int, steps: int) -> None:
    hours = RNG.integers(25 * steps, 45 * steps, size=20) / steps
    assert part_of_a_day(pl.Series((hours / 24).round(decimals))) is not None


@pytest.mark.parametrize(
    "hours",
    [
        HALVES,
        RNG.integers(100, 400, size=20) / 4,
        (RNG.integers(60, 1200, size=20) / 60).round(4),
        (RNG.integers(6, 120, size=20) / 6).round(3),
        RNG.uniform(1, 40, size=20).round(3),
        RNG.uniform(1, 40, size=20).round(4),
        (HALVES / 24).round(4)[:3],
        (HALVES / 24).round(2),
    ],
)
def test_hours(hours: np.ndarray) -> None:
    assert part_of_a_day(pl.Series(hours)) is None


@pytest.mark.parametrize("mark", [".", ","])
def test_they_are_asked_about_once_and_not_known(check, mark: str) -> None:
    typed = [f"{hours / 24:.4f}".replace(".", mark) for hours in HALVES]
    log = check(*[{"drained_on": f"2026-03-{day:02d}", "oil_hours": cell} for day, cell in enumerate(typed, 1)])
    asked = log.asked.filter(column="oil_hours")
    assert len(asked) == 1
    assert "whole minutes only as parts of a day" in asked["message"][0]
    assert log.accepted["drains"]["hours_in_question"].all()
