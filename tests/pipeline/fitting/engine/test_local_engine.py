"""PartitionStore add up to the whole, and depend on nothing but the fleet; blocks come back in order."""

import threading
from itertools import count

import numpy as np
import pytest
from invented_ratings import invented_log, likelihood_of
from numpy.testing import assert_allclose, assert_array_equal

from draincurve.pipeline.fitting.engine.local_engine import HERE, PartitionStore, partitioning
from draincurve.pipeline.fitting.likelihood import Likelihood, Ratings
from draincurve.pipeline.fitting.links import LINKS
from draincurve.pipeline.fitting.objective import _warm_start_units
from draincurve.pipeline.processing import FEWEST_PARTITIONS, MOST_WARM_UNITS, PARTITION_UNITS


@pytest.mark.parametrize("units", [1, 5, FEWEST_PARTITIONS, 2_100, 3 * PARTITION_UNITS * FEWEST_PARTITIONS])
def test_partitions_hold_every_unit_once_and_about_equally_many_drains(units):
    lengths = np.random.default_rng(1).integers(1, 5, units)
    starts = np.concatenate(([0], np.cumsum(lengths))).astype(np.int64)
    ones = np.ones(starts[-1], dtype=np.int64)
    likelihood = Likelihood(Ratings(ones, ones, np.zeros((starts[-1], 1)), starts, 5, True), LINKS["logit"], nodes=9)
    bounds = partitioning(likelihood).bounds
    assert bounds[0] == 0
    assert bounds[-1] == units
    assert np.all(np.diff(bounds) > 0)
    most = min(units, max(FEWEST_PARTITIONS, -(-units // PARTITION_UNITS)))
    assert bounds.size - 1 == most if units > 100 else 1 <= bounds.size - 1 <= most
    drains = np.diff(starts[bounds])
    assert drains.max() - drains.min() <= 2 * lengths.max()


@pytest.mark.parametrize(("units", "share"), [(2_100, 105), (100_000, 5_000), (3_000_000, MOST_WARM_UNITS)])
def test_the_climb_starts_from_a_share_that_one_process_can_hold(units, share):
    chosen = _warm_start_units(units)
    assert chosen.size == share == np.unique(chosen).size
    assert_array_equal(chosen, _warm_start_units(units))
    assert 0.4 < chosen.mean() / units < 0.6


def test_partitions_add_up_to_the_whole():
    log = invented_log(np.random.default_rng(2).integers(1, 30, 400), seed=3)
    likelihood, natural = likelihood_of(log, "logit", 9)
    whole = likelihood.expansion(natural)
    with HERE.partitioned(likelihood) as partitioned:
        found = partitioned.expansion(natural)
        assert_allclose(partitioned.modes(), likelihood.modes, atol=1e-9)
    assert found.value == pytest.approx(whole.value, rel=1e-12)
    assert_allclose(found.gradient, whole.gradient, atol=1e-8)
    assert_allclose(found.hessian, whole.hessian, atol=1e-8)


def test_a_partition_made_anew_has_the_bits_of_the_one_that_was_lost():
    likelihood, natural = likelihood_of(invented_log([3, 20, 1, 8, 8, 15], seed=4), "cloglog", 9)
    passed = [natural, natural * 1.05, natural * 0.98]
    lived, anew = PartitionStore(), PartitionStore()
    lived.add(0, likelihood.of_units(np.arange(6)), ())
    for at in passed:
        lived.expansions((0,), at)
    anew.add(0, likelihood.of_units(np.arange(6)), passed)
    assert_array_equal(anew.modes((0,))[0], lived.modes((0,))[0])
    (one,), (other,) = lived.expansions((0,), natural * 1.01), anew.expansions((0,), natural * 1.01)
    assert one.value == other.value
    assert_array_equal(one.gradient, other.gradient)
    assert_array_equal(one.hessian, other.hessian)


def test_tasks_come_back_in_order_and_are_taken_as_they_are_needed():
    taken, wait = count(), threading.Event()

    def tasks():
        for number in range(200):
            next(taken)
            yield number

    def square(number):
        wait.wait(0.001 * (number % 3))
        return number**2

    results = HERE.map(square, tasks())
    assert next(results) == 0
    assert next(taken) < 100
    assert list(results) == [number**2 for number in range(1, 200)]


def test_a_fault_in_a_task_is_the_callers():
    def fault(_):
        raise ArithmeticError("here")

    with pytest.raises(ArithmeticError, match="here"):
        list(HERE.map(fault, range(3)))
