"""Limits out of the fleet's own readings: coverage, refusal, and the cautious end."""

import numpy as np
import pytest

from draincurve.pipeline.judging.fleet_limits import (
    NORMAL,
    ORDERED,
    FleetLimit,
    fewest_for_percentile,
    fleet_limit,
    normal_percentile,
    ordered_percentile,
)


def test_fifty_nine_readings_bound_the_ninety_fifth_percentile():
    """1 - 0.95^59 = 0.9515, the well-known 95/95 rule (Wilks 1941, Ann. Math. Stat. 12, 91-96; from memory)."""
    assert fewest_for_percentile(0.95, 0.90) == 59
    sample = np.arange(59.0)
    assert ordered_percentile(sample, 0.95, confidence=0.90).high == 58.0
    assert ordered_percentile(sample[:58], 0.95, confidence=0.90).high is None


@pytest.mark.parametrize("find", [ordered_percentile, normal_percentile])
def test_intervals_cover_as_they_say(find):
    rng = np.random.default_rng(3)
    truth, low, high = 1.6448536, 0, 0
    for _ in range(1500):
        found = find(np.sort(rng.normal(size=80)), 0.95, confidence=0.90)
        low += found.low <= truth
        high += found.high >= truth
    slack = 3 * np.sqrt(0.95 * 0.05 / 1500)
    assert low / 1500 >= 0.95 - slack
    assert high / 1500 >= 0.95 - slack
    if find is normal_percentile:
        assert low / 1500 <= 0.95 + slack


def test_normal_readings_need_thirty():
    values = np.random.default_rng(1).normal(10, 2, 40)
    found = fleet_limit(values, "rising", log_scale=False)
    assert isinstance(found, FleetLimit)
    assert found.method == NORMAL
    assert found.low == found.look_from < found.value < found.high
    assert isinstance(fleet_limit(values[:29], "rising", log_scale=False), str)


def test_skewed_readings_need_fifty_nine():
    values = np.random.default_rng(1).exponential(10, 70) ** 1.5
    found = fleet_limit(values, "rising", log_scale=False)
    assert isinstance(found, FleetLimit)
    assert found.method == ORDERED
    refused = fleet_limit(values[:50], "rising", log_scale=False)
    assert "50 parts were measured; 59 are needed" in str(refused)


def test_what_falls_is_looked_at_from_above():
    values = np.random.default_rng(2).normal(460, 2, 45)
    found = fleet_limit(values, "falling", log_scale=False)
    assert isinstance(found, FleetLimit)
    assert found.side == "under"
    assert found.look_from == found.high > found.value
    assert found.value < 460


def test_log_readings_stay_positive():
    found = fleet_limit(np.exp(np.random.default_rng(2).normal(5, 1, 60)), "rising", log_scale=True)
    assert isinstance(found, FleetLimit)
    assert found.method == NORMAL
    assert found.value == pytest.approx(np.exp(5 + 1.645), rel=0.5)


@pytest.mark.parametrize("values", [np.array([]), np.full(100, 3.0)])
def test_nothing_to_go_by(values):
    assert "all the same, or there are none" in str(fleet_limit(values, "rising", log_scale=False))


def test_no_limit_where_either_side_may_be_worse():
    assert "either side" in str(fleet_limit(np.arange(100.0), "either", log_scale=False))


@pytest.mark.parametrize(("draw", "method"), [("normal", NORMAL), ("exponential", ORDERED)])
def test_it_flags_as_many_healthy_units_as_it_says(draw, method):
    """Fleets of 85 healthy units against 4,000 more of the same: mean of what is said, mean of what is flagged."""
    rng = np.random.default_rng(5)
    said, flagged = [], []
    while len(said) < 150:
        found = fleet_limit(getattr(rng, draw)(size=85), "rising", log_scale=False)
        if isinstance(found, FleetLimit) and found.method == method:
            said.append(found.flagged)
            flagged.append((getattr(rng, draw)(size=4000) >= found.look_from).mean())
    assert np.mean(said) == pytest.approx(np.mean(flagged), abs=0.008)
    assert 0.05 < np.mean(flagged) < 0.15


def test_equal_readings_at_the_look_are_all_counted():
    values = np.repeat([1.0, 2.0, 3.0, 9.0], [40, 30, 28, 2])
    found = fleet_limit(values, "rising", log_scale=False)
    assert isinstance(found, FleetLimit)
    assert (found.look_from, found.beyond) == (3.0, 30)
    assert found.flagged == pytest.approx(30 / 101)


def test_readings_under_the_limit_of_detection_have_no_mean():
    values = np.random.default_rng(1).normal(10, 2, 70)
    found = fleet_limit(values, "rising", log_scale=False, bounded=True)
    assert isinstance(found, FleetLimit)
    assert found.method == ORDERED
    assert isinstance(fleet_limit(values[:40], "rising", log_scale=False, bounded=True), str)


def test_worn_units_in_the_fleet_flag_fewer_healthy_ones_and_most_worn_ones_are_seen():
    """One unit in ten has three times the iron: the limit moves out, so what is said of healthy units is the most."""
    rng = np.random.default_rng(6)
    healthy, worn, said = [], [], []
    for _ in range(100):
        readings = np.exp(rng.normal(3.0, 0.4, 85) + (rng.random(85) < 0.1) * np.log(3.0))
        found = fleet_limit(readings, "rising", log_scale=False)
        assert isinstance(found, FleetLimit)
        more = np.exp(rng.normal(3.0, 0.4, 2000))
        healthy.append((more >= found.look_from).mean())
        worn.append((3.0 * more >= found.look_from).mean())
        said.append(found.flagged)
    assert np.mean(healthy) < np.mean(said)
    assert np.mean(worn) > 0.7
