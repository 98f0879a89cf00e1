import numpy as np
import pytest

from draincurve.pipeline.judging.isotonic_estimate import isotonic_estimate


def test_distinct_hours_are_weighed_by_their_drains():
    steps = isotonic_estimate(np.array([10.0, 10.0, 10.0, 20.0, 30.0]), np.array([1.0, 0.0, 0.0, 0.0, 1.0]))
    assert steps.hours.tolist() == [10.0, 20.0, 30.0]
    assert steps.drains.tolist() == [3, 1, 1]
    assert steps.share == pytest.approx([0.25, 0.25, 1.0])


def test_one_drain():
    steps = isotonic_estimate(np.array([12.0]), np.array([1.0]))
    assert (steps.hours.tolist(), steps.share.tolist(), steps.drains.tolist()) == ([12.0], [1.0], [1])
