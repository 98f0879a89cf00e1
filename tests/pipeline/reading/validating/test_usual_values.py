"""What is usual is the median of the others, and stays so when several values are suspicious."""

import numpy as np
import pytest

from draincurve.pipeline.reading.validating.usual_values import asked_multiples, median_of_others, usual_hours


def test_usual_hours_are_the_median_of_the_others() -> None:
    rng = np.random.default_rng(3)
    hours, units = rng.uniform(8.0, 16.0, 300), rng.integers(0, 25, 300)
    found = usual_hours(hours, units)
    for row in range(300):
        others = (units == units[row]) & (np.arange(300) != row)
        assert found.compared[row] == pytest.approx(np.median(hours[others]))


def test_no_fills_have_no_usual_hours() -> None:
    assert usual_hours(np.empty(0), np.empty(0, dtype=np.int64)).compared.size == 0


def test_fills_near_the_fleets_usual_count_where_half_are_in_minutes() -> None:
    hours = np.array([12.0, 750.0, 11.0, 690.0, 10.0, 600.0, *[11.5] * 8])
    units = np.repeat([0, 1], (6, 8))
    found = usual_hours(hours, units)
    assert found.fleet == 11.5
    assert (found.compared < 13).all()
    assert found.own.all()


def test_a_value_that_does_not_count_has_the_median_of_those_that_do() -> None:
    values, units = np.array([0.48, 480.0, 500.0, 490.0, 7.0]), np.array([0, 0, 0, 0, 1])
    found = median_of_others(values, units, counted=values >= 5)
    assert found[:4].tolist() == [490.0, 495.0, 485.0, 490.0]
    assert np.isnan(found[4])
    assert np.isnan(median_of_others(values, units, counted=values > 1000)).all()


@pytest.mark.parametrize(("sd", "most_asked"), [(0.2, 0.001), (0.3, 0.005), (0.4, 0.01), (0.5, 0.02), (0.6, 0.05)])
def test_few_honest_fills_and_nearly_every_slip_are_asked_about(sd: float, most_asked: float) -> None:
    rng = np.random.default_rng(7)
    units = np.repeat(np.arange(8), 12)
    honest, slips = [], {10.0: [], 60.0: [], 1 / 24: []}
    for _ in range(60):
        usual = 12.0 * np.exp(0.15 * rng.normal(size=8))[units]
        hours = usual * np.exp(sd * rng.normal(size=units.size))
        honest.append(asked(hours, units))
        for factor, found in slips.items():
            wrong = rng.choice(units.size, 3, replace=False)
            planted = hours.copy()
            planted[wrong] *= factor
            found.append(asked(planted, units)[wrong])
    assert np.mean(honest) <= most_asked
    assert np.mean(slips[10.0]) >= 0.94
    assert np.mean(slips[60.0]) == 1.0
    assert np.mean(slips[1 / 24]) >= 0.99


def test_a_regular_unit_among_irregular_ones_is_asked_about() -> None:
    rng = np.random.default_rng(3)
    regular = 12.0 * np.exp(0.05 * rng.normal(size=20))
    regular[4] = 36.0
    irregular = 12.0 * np.exp(0.4 * rng.normal(size=60))
    units = np.repeat(np.arange(4), 20)
    assert asked(np.concatenate([regular, irregular]), units)[4]


def asked(hours: np.ndarray, units: np.ndarray) -> np.ndarray:
    compared = usual_hours(hours, units).compared
    over, under = asked_multiples(hours, units, compared=compared)
    return (hours > over * compared) | (hours < under * compared)
