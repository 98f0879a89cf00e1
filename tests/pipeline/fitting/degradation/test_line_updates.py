import numpy as np
import pytest

from draincurve.pipeline.fitting.degradation.line_posterior import UnitLines
from draincurve.pipeline.fitting.degradation.line_updates import with_known_distances

BETA = np.array([10.0, 2.0])
BETWEEN = np.array([[4.0, 0.3], [0.3, 0.25]])
"""Fleet's line, known, and covariance of units' levels and slopes about it."""


def lines_of(readings, noise=0.5):
    """Lines of units with readings (hours, value) each, and of a new one, by plain matrix algebra; one draw."""
    means, covariances = [], []
    for unit in (*readings, []):
        x = np.array([[1.0, hours] for hours, _ in unit]).reshape(-1, 2)
        y = np.array([value for _, value in unit])
        precision = np.linalg.inv(BETWEEN) + x.T @ x / noise
        covariances.append(np.linalg.inv(precision))
        means.append(covariances[-1] @ (np.linalg.inv(BETWEEN) @ BETA + x.T @ y / noise))
    level, slope = np.array(means).T
    own = np.array(covariances)
    return UnitLines(
        level[None],
        slope[None],
        own[None, :, 0, 0],
        own[None, :, 0, 1],
        own[None, :, 1, 1],
        np.array([noise]),
        30,
        None,
    )


def columns_of(lines):
    return np.column_stack([part[0] for part in (
        lines.level, lines.slope, lines.level_variance, lines.covariance, lines.slope_variance
    )])  # fmt: skip


def test_a_known_distance_is_one_more_reading():
    """With the noise of a reading as its error it gives the line that this reading would have given."""
    readings = [[(2.0, 13.0), (6.0, 24.0)], [(4.0, 17.0)]]
    at, value = 5.0, 26.0
    distance = np.array([value - BETA @ (1.0, at), 0.0])
    found, own = with_known_distances(
        lines_of(readings), np.array([0, 1]), at_h=at, distance=distance, error=np.array([0.5, np.inf])
    )
    wanted = lines_of([[*readings[0], (at, value)], readings[1]])
    assert own.tolist() == [0, 1]
    assert columns_of(found) == pytest.approx(columns_of(wanted))


def test_units_without_readings_get_lines_of_their_own():
    """The last unit has no reading either, and nothing is known of it: it stays a new one."""
    lines = lines_of([[(2.0, 13.0)]])
    at, value = 5.0, 26.0
    found, own = with_known_distances(
        lines,
        np.array([1, 0, 1]),
        at_h=at,
        distance=np.array([value - BETA @ (1.0, at), 0.0, 0.0]),
        error=np.array([0.5, np.inf, np.inf]),
    )
    assert own.tolist() == [1, 0, 2]
    assert found.new_unit == 2
    wanted = columns_of(lines_of([[(2.0, 13.0)], [(at, value)]]))
    assert columns_of(found) == pytest.approx(wanted)


def test_nothing_known_changes_nothing():
    lines = lines_of([[(2.0, 13.0)], [(4.0, 17.0)]])
    found, own = with_known_distances(
        lines, np.array([0, 1, 2]), at_h=5.0, distance=np.zeros(3), error=np.full(3, np.inf)
    )
    assert own.tolist() == [0, 1, 2]
    assert columns_of(found) == pytest.approx(columns_of(lines))
