"""What an engine does with a large fleet, and the engine that does it in this process.

A fit's units are divided into partitions, whose expansions of the log likelihood are added up; independent blocks of
units are tasks. Partitions and blocks depend on the fleet only, sums are added in the order of the partitions, and
random numbers are seeded by block. So results have the same bits on every engine and with any number of workers.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from functools import reduce
from operator import add
from typing import Protocol, TypeVar

import numpy as np
from numba import get_num_threads
from threadpoolctl import threadpool_limits

from draincurve.pipeline.fitting.likelihood import Expansion, Likelihood
from draincurve.pipeline.processing import FEWEST_PARTITIONS, PARTITION_UNITS
from draincurve.schemas.array_types import Floats, Integers

Task = TypeVar("Task")
Result = TypeVar("Result")

TASKS_AHEAD = 2
"""Tasks submitted for each thread beyond those that are done: enough to keep threads busy, few enough for memory."""


class PartitionedLikelihood(Protocol):
    """A likelihood whose units are divided into partitions, in this process or on workers."""

    def expansion(self, natural: Floats) -> Expansion:
        """One pass at natural parameters (P,), summed over the partitions in their order."""

    def modes(self) -> Floats:
        """The units' modes after the last pass, (U,)."""


class Engine(Protocol):
    """Computes passes over partitions of units, and maps functions over blocks."""

    @property
    def notes(self) -> tuple[str, ...]:
        """Sentences for the report on what happened."""

    def partitioned(self, likelihood: Likelihood) -> AbstractContextManager[PartitionedLikelihood]:
        """The likelihood in partitions, for the duration of a `with` block."""

    def map(self, function: Callable[[Task], Result], tasks: Iterable[Task]) -> Iterator[Result]:
        """Results in the order of the tasks, a few at a time; the function must belong to a module."""


class PartitionStore:
    """The partitions of one process, by number; each keeps its units' modes between passes."""

    def __init__(self) -> None:
        self._parts: dict[int, Likelihood] = {}

    def add(self, number: int, part: Likelihood, passes: Sequence[Floats]) -> None:
        """Add a partition, after repeating all passes so far on it, so that its modes and sums have the same bits.

        passes : natural parameters of every pass so far, in order
        """
        for natural in passes:
            part.expansion(natural)
        self._parts[number] = part

    def expansions(self, numbers: Sequence[int], natural: Floats) -> list[Expansion]:
        """One pass over some partitions."""
        return [self._parts[number].expansion(natural) for number in numbers]

    def modes(self, numbers: Sequence[int]) -> list[Floats]:
        """Modes of some partitions' units."""
        return [self._parts[number].modes for number in numbers]


@dataclass(frozen=True)
class Partitioning:
    """How units are divided: partition i has units bounds[i] to bounds[i + 1] - 1."""

    bounds: Integers

    @property
    def count(self) -> int:
        """Number of partitions."""
        return self.bounds.size - 1

    def part(self, likelihood: Likelihood, number: int) -> Likelihood:
        """One partition's likelihood, which starts from the whole one's modes."""
        units = np.arange(self.bounds[number], self.bounds[number + 1], dtype=np.int64)
        part = likelihood.of_units(units)
        part.modes = likelihood.modes[units]
        return part


def partitioning(likelihood: Likelihood) -> Partitioning:
    """Partitions with about equally many drains; their number depends on the number of units only."""
    starts = likelihood.ratings.starts
    units = starts.size - 1
    count = min(units, max(FEWEST_PARTITIONS, -(-units // PARTITION_UNITS)))
    marks = np.linspace(0, starts[-1], count + 1)
    inner = np.searchsorted(starts, marks[1:-1])
    return Partitioning(np.unique(np.concatenate(([0], inner, [units]))).astype(np.int64))


def total(expansions: Iterable[Expansion]) -> Expansion:
    """The sum of the partitions' expansions, added from the first to the last."""
    return reduce(add, expansions)


@dataclass(frozen=True)
class _LocalLikelihood:
    """All partitions in this process."""

    store: PartitionStore
    numbers: range

    def expansion(self, natural: Floats) -> Expansion:
        return total(self.store.expansions(self.numbers, natural))

    def modes(self) -> Floats:
        return np.concatenate(self.store.modes(self.numbers))


@dataclass(frozen=True)
class LocalEngine:
    """Partitions in this process, one after another on all threads; tasks in parallel, each on one thread."""

    notes: tuple[str, ...] = ()

    @contextmanager
    def partitioned(self, likelihood: Likelihood) -> Iterator[PartitionedLikelihood]:
        """The likelihood in partitions in this process."""
        divided, store = partitioning(likelihood), PartitionStore()
        for number in range(divided.count):
            store.add(number, divided.part(likelihood, number), ())
        yield _LocalLikelihood(store, range(divided.count))

    def map(self, function: Callable[[Task], Result], tasks: Iterable[Task]) -> Iterator[Result]:
        """Results in the order of the tasks; a slow function should release the interpreter's lock."""
        threads = get_num_threads()
        # BLAS threads inside the small matrix products of a block would only compete with the other blocks.
        with threadpool_limits(1, user_api="blas"), ThreadPoolExecutor(threads) as pool:
            waiting: deque[Future[Result]] = deque()
            for task in tasks:
                waiting.append(pool.submit(function, task))
                if len(waiting) > threads * TASKS_AHEAD:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()


HERE = LocalEngine()
"""The default engine."""
