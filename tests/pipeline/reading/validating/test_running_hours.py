"""Hours that run on and start again now and then are told from fills in random order."""

from datetime import date, timedelta
from itertools import pairwise, permutations

import numpy as np
import polars as pl
import pytest

from draincurve.pipeline.reading.validating.running_hours import ascents_by_unit, running_symptom, running_z


def steps_onward(hours) -> int:
    return sum(after > before or after < 0.5 * before for before, after in pairwise(hours))


@pytest.mark.parametrize("hours", [(12, 24, 40, 9, 22), (5, 11, 6, 30, 14, 2), (12, 12, 13, 5), (3, 1, 2)])
def test_mean_and_variance_are_those_of_all_orders(hours: tuple[float, ...]) -> None:
    counts = [steps_onward(order) for order in permutations(hours)]
    expected = (steps_onward(hours) - np.mean(counts)) / np.std(counts)
    assert running_z([hours], reset_under=0.5) == pytest.approx(expected)
    twice = running_z([hours, hours, (7.0, 9.0)], reset_under=0.5)
    assert twice == pytest.approx(2**0.5 * expected)


def test_hours_whose_order_makes_no_difference() -> None:
    assert running_z([], reset_under=0.5) == running_z([(5, 5, 5), (8, 9)], reset_under=0.5) == 0.0


def symptom(hours_of_units) -> str:
    """How hours of units [h], each drained every ten days, run on; "" where they do not."""
    rows = pl.DataFrame(
        [
            {"unit_key": f"F{unit}", "drained_on": date(2026, 1, 1) + timedelta(days=10 * at), "_hours": float(value)}
            for unit, hours in enumerate(hours_of_units)
            for at, value in enumerate(hours)
        ]
    )
    return running_symptom(ascents_by_unit(rows.with_columns(pl.lit(12.0).alias("_fleet")))) or ""


@pytest.mark.parametrize(("rebuilt_after", "words"), [(2, "in turn"), (3, "start again"), (4, "start again")])
def test_few_drains_show_it_where_the_steps_are_alike(rebuilt_after: int, words: str) -> None:
    """Four units of six drains, each rebuilt every few drains; in one log of eight chance may hide it."""
    seen = []
    for seed in range(8):
        rng = np.random.default_rng(seed)
        fills = (12.0 * np.exp(0.12 * rng.normal(size=(4, 6 + rebuilt_after)))).round(1)
        running = []
        for fill, begun in zip(fills, rng.integers(rebuilt_after, size=4), strict=True):
            parts = np.split(fill, range(rebuilt_after, fill.size, rebuilt_after))
            running.append(np.concatenate([np.cumsum(part) for part in parts])[begun : begun + 6])
        seen.append(words in symptom(running))
        assert not symptom(fills[:, :6])
    assert sum(seen) >= 7


def test_few_drains_in_random_order_do_not_show_it() -> None:
    rng = np.random.default_rng(5)
    sizes = [(1, 6), (2, 5), (4, 6), (6, 5), (10, 6)]
    uniform = [rng.uniform(5, 25, size=size).round(1) for size in sizes for _ in range(60)]
    skewed = [(12 * np.exp(0.6 * rng.normal(size=size))).round(1) for size in sizes for _ in range(60)]
    said = [symptom(hours) for hours in uniform + skewed]
    assert not any("start again" in words or "in turn" in words for words in said)
