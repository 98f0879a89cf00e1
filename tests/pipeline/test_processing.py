"""What follows from the size of a fleet, and of a fit."""

import pytest

from draincurve.pipeline.processing import (
    LARGE_FLEET,
    LARGE_FLEET_UNITS,
    ONE_THREAD_DRAINS,
    SMALL_FLEET,
    fit_processing,
    fleet_processing,
    sample_fit_processing,
)


def test_a_small_fleet_is_processed_whole_however_many_drains_it_has():
    assert fleet_processing(units=LARGE_FLEET_UNITS, drains=10**7) == SMALL_FLEET
    limits = [getattr(SMALL_FLEET, name) for name in SMALL_FLEET.__slots__ if name.endswith("_units")]
    assert limits == [None] * 7
    assert not SMALL_FLEET.compact_design
    assert not SMALL_FLEET.categorical_names


@pytest.mark.parametrize(
    ("units", "drains", "one_thread"),
    [(16, 200, True), (16, ONE_THREAD_DRAINS - 1, True), (16, ONE_THREAD_DRAINS, False), (3_000, 200, False)],
)
def test_a_plan_of_few_drains_runs_on_one_thread(units, drains, one_thread):
    assert fleet_processing(units=units, drains=drains).one_thread is one_thread


@pytest.mark.parametrize(
    ("drains", "categorical", "compact"),
    [(5_000, False, False), (199_999, False, False), (200_000, False, True), (500_000, True, True)],
)
def test_a_large_fleet_saves_memory_once_its_log_is_large(drains, categorical, compact):
    found = fleet_processing(units=LARGE_FLEET_UNITS + 1, drains=drains)
    assert (found.categorical_names, found.compact_design) == (categorical, compact)
    assert found.block_units == LARGE_FLEET.block_units
    assert found.full_tables


def test_the_sample_of_a_large_fleet_is_fitted_as_a_large_fleet():
    assert LARGE_FLEET.sample_units > LARGE_FLEET_UNITS
    assert LARGE_FLEET.shown_of_a_kind * 3 < LARGE_FLEET.shown_units


@pytest.mark.parametrize(
    ("units", "drains", "one_thread", "normal", "draws", "score_tests"),
    [
        (10, 4_999, True, False, None, False),
        (10, 5_000, False, False, None, False),
        (10, 20_001, False, False, 400, True),
        (10, 50_001, False, True, 400, True),
        (2_001, 4_002, True, True, 200, False),
    ],
)
def test_a_fit_is_quicker_the_more_the_ratings_say(units, drains, one_thread, normal, draws, score_tests):
    found = fit_processing(units=units, drains=drains)
    assert found.one_thread is one_thread
    assert found.normal_posterior is normal
    assert found.draws == draws
    assert found.score_tests is score_tests
    assert found.single_pass is found.linear_effects is (units > LARGE_FLEET_UNITS)


def test_a_sample_gets_the_normal_posterior_whatever_its_size():
    few = sample_fit_processing(units=1_500, drains=3_000)
    assert few.normal_posterior
    assert few.linear_effects
    assert not few.single_pass
