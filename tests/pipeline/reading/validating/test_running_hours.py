"""Hours that run on and start again now and then are told from fills in random order."""

from itertools import pairwise, permutations

import numpy as np
import pytest

from draincurve.pipeline.reading.validating.running_hours import running_z


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
