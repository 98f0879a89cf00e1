"""Settings of the whole suite."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import deep_runs
import pytest
import typer.testing
from hypothesis import settings
from no_evidence import no_evidence
from numba import get_num_threads, set_num_threads
from running_postgresql import postgresql_server, postgresql_shop
from running_workers import running_workers
from small_trees import small_trees

TESTS = Path(__file__).parent

# A busy machine must not fail a test, and a run must not depend on the day's luck.
settings.load_profile(deep_runs.USUAL)

# Sums over the small logs of tests take microseconds; on several threads, a hundred times as long where other
# processes use the cores, since threads wait for each other.
ALL_THREADS = get_num_threads()
set_num_threads(1)

# Typer would build the whole command line anew for each command that a test runs.
typer.testing._get_command = cache(typer.testing._get_command)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Each of two workers begins with tests of other compiled loops, so that none is compiled by both."""
    fitting, deciding, others = [], [], []
    for item in items:
        inside = item.path.relative_to(TESTS).as_posix().partition("pipeline/")[2]
        # Workers of a cluster compile for themselves, so their tests wait until all is compiled.
        room = "" if inside.startswith("fitting/engine/") else inside.partition("/")[0]
        {"fitting": fitting, "deciding": deciding, "judging": deciding}.get(room, others).append(item)
    middle = max(0, len(items) // 2 - len(fitting))
    items[:] = [*fitting, *others[:middle], *deciding, *others[middle:]]


def pytest_collection_finish() -> None:
    """What was collected stays until the end, so the collector of garbage need not look at it again and again."""
    gc.collect()
    gc.freeze()


@pytest.fixture
def all_threads() -> Iterator[None]:
    """Compiled loops on as many threads as the program itself would take: for tests of such loops."""
    set_num_threads(ALL_THREADS)
    yield
    set_num_threads(1)


@pytest.fixture
def trees_are_small() -> Iterator[None]:
    """Backtests whose boosted trees take no time: for tests of all else about them."""
    with small_trees():
        yield


@pytest.fixture
def without_evidence() -> Iterator[None]:
    """Plans without what only their report shows: for tests of a plan's answers."""
    with no_evidence():
        yield


__all__ = ["postgresql_server", "postgresql_shop", "running_workers"]
