"""How many threads a step of the plan takes, for compiled sums and for linear algebra."""

from types import SimpleNamespace

import numpy as np
import pytest
from numba import get_num_threads
from threadpoolctl import threadpool_info

from draincurve.pipeline.fitting import one_thread_if_small
from draincurve.pipeline.fitting.thread_limits import one_thread

pytestmark = pytest.mark.usefixtures("all_threads")


def threads() -> tuple[int, ...]:
    np.linalg.eigh(np.eye(2))  # loads the library, should nothing have used it yet
    return get_num_threads(), *(found["num_threads"] for found in threadpool_info() if found["user_api"] == "blas")


@pytest.mark.parametrize("small", [True, False])
def test_a_step_of_a_small_fleet_runs_on_one_thread_and_leaves_them_as_they_were(small):
    step = one_thread_if_small(lambda _: threads())
    before = threads()
    within = step(SimpleNamespace(processing=SimpleNamespace(one_thread=small)))
    assert set(within) == {1} if small else within == before
    assert threads() == before


def test_threads_are_as_before_when_a_step_fails():
    before = threads()
    with pytest.raises(ZeroDivisionError), one_thread():
        1 / 0  # noqa: B018
    assert threads() == before
