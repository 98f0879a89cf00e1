"""Cumulative sums by hand: restarts, and the tops of excursions."""

from __future__ import annotations

import numpy as np
import pytest

from draincurve.pipeline.judging.changepoints.cusum import excursion_tops, running_tops

NEVER = np.zeros(6, dtype=bool)


def test_the_top_so_far_holds_until_the_sum_is_back_at_zero():
    sums = np.array([[0.5, 2.0, 0.0, 2.5, 2.5, 1.5], [3.0, 1.0, 0.25, 0.0, 0.0, 0.5]])
    assert running_tops(sums, NEVER).tolist() == [[0.5, 2.0, 0.0, 2.5, 2.5, 2.5], [3.0, 3.0, 3.0, 0.0, 0.0, 0.5]]


def test_a_restart_begins_another_excursion():
    restart = np.array([False, True, False])
    assert running_tops(np.array([[4.0, 1.0, 2.0]]), restart).tolist() == [[4.0, 1.0, 2.0]]


@pytest.mark.parametrize(
    ("sums", "restart", "tops"),
    [
        ([0.5, 2.0, 0.0, 2.5, 3.5, 1.5], NEVER, [2.0, 3.5]),
        ([0.0, 0.0, 0.0, 0.0, 0.0, 0.0], NEVER, []),
        ([0.0, 1.0, 0.0, 0.0, 0.0, 0.75], NEVER, [1.0, 0.75]),
        ([1.0, 2.0, 1.5, 0.5, 0.7, 0.0], np.array([True, False, False, True, False, False]), [2.0, 0.7]),
        ([1.0, 2.0, 1.5, 0.5, 0.7, 0.2], np.array([True, False, False, False, False, True]), [2.0, 0.2]),
    ],
)
def test_each_excursion_has_one_top(sums, restart, tops):
    found = excursion_tops(running_tops(np.array([sums]), restart), restart)
    assert found.tolist() == tops


def test_units_have_excursions_of_their_own():
    tops = np.array([[1.0, 1.0], [0.0, 2.0], [3.0, 0.0]])
    assert excursion_tops(tops, NEVER[:2]).tolist() == [1.0, 2.0, 3.0]
