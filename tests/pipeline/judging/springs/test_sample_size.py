import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from draincurve.pipeline.judging.springs.sample_size import (
    difference_found,
    drains_if_crossed,
    further_drains,
    information_needed,
)


def test_the_textbook_number():
    """Two-sided 5 %, 80 % power, half a standard deviation: 62.8 a group (Cohen 1988, normal approximation, 63)."""
    a_group = 2 * information_needed(0.5, 1)
    assert a_group == pytest.approx(62.79, abs=0.01)


def test_power_is_eighty_per_cent_where_that_much_is_known():
    rng = np.random.default_rng(4)
    information = information_needed(0.3, 3)
    z = rng.normal(0.3 * np.sqrt(information), 1.0, 100_000)
    assert np.mean(np.abs(z) > 2.394) == pytest.approx(0.8, abs=0.01)  # 5 % / 3, two-sided


@given(st.floats(0.01, 100), st.floats(0.01, 1000), st.integers(2, 500))
def test_that_many_more_reach_it_and_one_fewer_do_not(information, needed, drains):
    more = further_drains(information, needed, drains=drains)
    reached = information * (drains + more) / drains
    assert reached >= needed * (1 - 1e-9)
    if more:
        assert information * (drains + more - 1) / drains < needed * (1 + 1e-9)


@given(st.floats(0.01, 3.0), st.integers(1, 20))
def test_the_difference_found_is_the_one_that_was_planned_for(difference, tests):
    assert difference_found(information_needed(difference, tests), tests) == pytest.approx(difference)


def test_nothing_known_needs_no_number():
    assert further_drains(0.0, 10.0, drains=20) is None
    assert drains_if_crossed(0.0, 10.0) is None


def test_half_on_each_is_four_times_the_variance():
    assert drains_if_crossed(0.25, 10.0) == 160
