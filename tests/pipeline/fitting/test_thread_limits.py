"""How many threads a step of the plan takes, for compiled sums and for linear algebra."""

import importlib
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


LOOP = """
import numpy as np
from numba import prange

from draincurve.pipeline.fitting import compiled_loop

@compiled_loop
def doubled(numbers):
    result = np.empty(numbers.size)
    for i in prange(numbers.size):
        result[i] = 2.0 * numbers[i]
    return result
"""


def test_a_compiled_loop_is_kept_apart_for_one_thread_and_for_several(tmp_path, monkeypatch):
    if get_num_threads() == 1:
        pytest.skip("this machine has one processor: there is one form")
    (tmp_path / "doubled_loop.py").write_text(LOOP)
    monkeypatch.syspath_prepend(tmp_path)
    doubled = importlib.import_module("doubled_loop").doubled
    kept = []
    for alone in (True, False):
        with one_thread(when=alone):
            assert doubled(np.arange(3.0)).tolist() == [0.0, 2.0, 4.0]
        kept.append(sorted(path.name.partition("-")[0] for path in tmp_path.rglob("*.nbi")))
    assert kept == [
        ["doubled_loop.doubled_on_one_thread"],
        ["doubled_loop.doubled", "doubled_loop.doubled_on_one_thread"],
    ]
