"""Hours at which a chance of being past the limit is reached, against draws."""

import numpy as np
import pytest

from draincurve.pipeline.deciding.wear_hours import hours_at, probability_past, readings_between
from draincurve.pipeline.describing.wear_limits import WearLimit
from draincurve.pipeline.fitting.degradation.line_posterior import UnitLines

RISING = WearLimit(None, 10.0, "mm", "", "")


def lines(level, slope, noise=1.0, freedom=1_000_000, own=0.01, mixed=-0.0001, by_slope=4e-6):
    shape = np.ones((1, 1))
    return UnitLines(level * shape, slope * shape, own * shape, mixed * shape, by_slope * shape, np.array([noise]),
                     freedom, None)  # fmt: skip


def at(found, limit=RISING, probabilities=(0.1,), begin=0.0, end=200.0, log=False, of_reading=True):
    return hours_at(found, np.array([0]), limit, log, np.array([begin]), end, probabilities, of_reading)[0]


def test_where_the_line_meets_the_limit():
    assert at(lines(1.0, 0.1), probabilities=(0.5,), of_reading=False)[0] == pytest.approx(90.0, abs=1e-3)


def test_a_reading_is_past_sooner_than_the_line():
    reading = at(lines(1.0, 0.1))[0]
    line = at(lines(1.0, 0.1), of_reading=False)[0]
    assert reading < line < 90
    z = 1.2815515655
    for hours, noise in ((reading, 1.0), (line, 0.0)):
        spread = np.sqrt(0.01 - 0.0002 * hours + 4e-6 * hours**2 + noise)
        assert 1 + 0.1 * hours + z * spread == pytest.approx(10.0, abs=1e-3)


def test_never_past_before_the_end_is_infinite():
    assert np.isinf(at(lines(1.0, 0.1), end=50.0)[0])
    assert np.isinf(at(lines(1.0, -0.1), end=500.0, of_reading=False)[0])


def test_past_already_is_now():
    assert at(lines(1.0, 0.1), begin=120.0)[0] == 120.0


def test_falling_and_both_sides():
    falling = WearLimit(8.0, None, "mm", "", "")
    assert at(lines(20.0, -0.1), falling, (0.5,), of_reading=False)[0] == pytest.approx(120.0, abs=1e-3)
    both = WearLimit(-10.0, 10.0, "%", "", "")
    assert at(lines(0.0, -0.1), both, (0.5,), of_reading=False)[0] == pytest.approx(100.0, abs=1e-3)


def test_a_log_limit_is_met_on_the_log():
    found = lines(np.log(2.0), 0.01)
    assert at(found, WearLimit(None, 4.0, "", "", ""), (0.5,), log=True, of_reading=False)[0] == pytest.approx(
        np.log(2) / 0.01, abs=1e-3
    )
    middle, low, high = readings_between(found, 0, np.array([0.0, 100.0]), True)
    assert middle == pytest.approx([2.0, 2.0 * np.e])
    assert (low < middle).all()
    assert (middle < high).all()


def test_chances_are_those_of_draws():
    rng = np.random.default_rng(1)
    found = lines(1.0, 0.1, freedom=5)
    hours = np.array([[60.0, 80.0]])
    scale = np.sqrt(0.01 - 0.0002 * hours + 4e-6 * hours**2 + 1.0)
    drawn = 1 + 0.1 * hours + scale * rng.standard_t(5, (400_000, 1))
    expected = (drawn >= 10).mean(axis=0)
    assert probability_past(found, np.array([0]), RISING, False, hours, True)[0] == pytest.approx(expected, abs=0.003)
