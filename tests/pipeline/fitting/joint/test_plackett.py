"""Two ratings of one drain: margins, cells and digits."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.fitting.joint.plackett import (
    both_past,
    by_first_margin,
    cell_probability,
    joint_distribution,
)

shares = st.floats(1e-6, 1 - 1e-6)
ratios = st.one_of(st.just(1.0), st.floats(1 - 1e-9, 1 + 1e-9), st.floats(1e-3, 1e3))


@given(shares, shares, ratios)
def test_the_odds_ratio_is_the_one_given(u: float, v: float, odds_ratio: float) -> None:
    c = joint_distribution(u, v, odds_ratio)
    assert max(0.0, u + v - 1) - 1e-12 <= c <= min(u, v) + 1e-12
    if min(c, u - c, v - c, 1 - u - v + c) > 1e-5:
        assert c * (1 - u - v + c) / ((u - c) * (v - c)) == pytest.approx(odds_ratio, rel=1e-6)


@given(shares, shares, ratios)
def test_ratings_at_the_ends_leave_the_margins(u: float, v: float, odds_ratio: float) -> None:
    assert joint_distribution(u, 1.0, odds_ratio) == pytest.approx(u, rel=1e-9)
    assert joint_distribution(1.0, v, odds_ratio) == pytest.approx(v, rel=1e-9)
    assert cell_probability(u, 0.0, 1.0, 0.0, odds_ratio) == pytest.approx(u, rel=1e-9)


@given(st.lists(shares, min_size=4, max_size=4, unique=True), ratios)
def test_cells_add_up_to_the_margins(bounds: list[float], odds_ratio: float) -> None:
    first, second = [0.0, *sorted(bounds[:2]), 1.0], [0.0, *sorted(bounds[2:]), 1.0]
    table = np.array(
        [
            [cell_probability(first[i + 1], first[i], second[j + 1], second[j], odds_ratio) for j in range(3)]
            for i in range(3)
        ]
    )
    assert table.sum(axis=1) == pytest.approx(np.diff(first), abs=1e-9)
    assert table.sum(axis=0) == pytest.approx(np.diff(second), abs=1e-9)


def test_small_cells_keep_their_digits() -> None:
    """The corner of high ratings, by its mirror image in the corner of low ones."""
    low = joint_distribution(1e-9, 2e-9, 8.0)
    assert cell_probability(1.0, 1 - 1e-9, 1.0, 1 - 2e-9, 8.0) == pytest.approx(low, rel=1e-6)
    assert low == pytest.approx(8.0 * 2e-18, rel=1e-6)


@pytest.mark.parametrize("odds_ratio", [0.2, 1.0, 1 + 1e-9, 7.0, 300.0])
def test_the_derivative_is_that_of_the_distribution(odds_ratio: float) -> None:
    for u, v in ((0.1, 0.3), (0.5, 0.5), (0.9, 0.95)):
        rise = joint_distribution(u + 1e-6, v, odds_ratio) - joint_distribution(u - 1e-6, v, odds_ratio)
        assert by_first_margin(u, v, odds_ratio) == pytest.approx(rise / 2e-6, rel=1e-5)


@given(shares, shares, st.floats(-6, 6))
def test_arrays_give_what_single_numbers_give(p: float, q: float, log_odds_ratio: float) -> None:
    found = both_past(np.array([p]), np.array([q]), np.array([log_odds_ratio]))
    assert found[0] == pytest.approx(joint_distribution(p, q, math.exp(log_odds_ratio)), rel=1e-9, abs=1e-15)
    assert both_past(np.array([p]), np.array([q]), np.array([0.0]))[0] == pytest.approx(p * q, rel=1e-12)
