import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.judging.springs.pair_tests import FEWEST_UNITS, permutation_p_value


def by_hand(scores):
    sums = [
        abs(sum(s * x for s, x in zip(signs, scores, strict=True)))
        for signs in itertools.product((1, -1), repeat=len(scores))
    ]
    return np.mean(np.array(sums) >= abs(sum(scores)) - 1e-9 * sum(map(abs, scores)))


@given(st.lists(st.floats(-10, 10), min_size=1, max_size=7))
def test_few_units_are_enumerated(scores):
    found = permutation_p_value(np.array(scores), np.random.default_rng(0))
    assert found == pytest.approx(by_hand(scores))


def test_random_relabellings_come_near_to_all_of_them():
    scores = np.random.default_rng(3).normal(0.5, 1.0, 12)
    assert permutation_p_value(scores, np.random.default_rng(1)) == pytest.approx(by_hand(scores), abs=0.03)


def test_the_fewest_units_are_those_that_can_reach_five_per_cent():
    smallest = {units: permutation_p_value(np.ones(units), np.random.default_rng(0)) for units in (5, 6)}
    assert smallest[FEWEST_UNITS - 1] > 0.05 >= smallest[FEWEST_UNITS]


def test_one_unit_that_makes_all_the_difference_shows_nothing():
    """Then the check turns on the other units alone: small p-values come no oftener than by chance."""
    rng = np.random.default_rng(5)
    found = [permutation_p_value(np.append(0.01 * rng.standard_normal(9), 30.0), rng) for _ in range(300)]
    assert 0.02 < np.mean(np.array(found) <= 0.05) < 0.09


def test_a_large_fleet_is_worked_off_in_pieces():
    scores = np.random.default_rng(2).normal(0.02, 1.0, 30_000)
    p_value = permutation_p_value(scores, np.random.default_rng(1))
    assert 0.0 < p_value < 0.05
