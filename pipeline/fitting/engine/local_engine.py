"""Where the heavy work of a large fleet is done: partitions of units are held and summed, blocks are worked off.

Partitions and blocks follow from the fleet alone, sums run in the order of the partitions, and random numbers are
keyed by block. So answers have the same bits on every engine, whatever its number of workers.
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
from draincurve.schemas.array_types import Floats, Integers

Task = TypeVar("Task")
Result = TypeVar("Result")

PARTITION_UNITS = 8_192
FEWEST_PARTITIONS = 8
BLOCKS_AHEAD = 2
"""Blocks begun for each thread beyond those that are done: enough that none waits, few enough to be held."""


class HeldLikelihood(Protocol):
    """A likelihood whose ratings lie in partitions of units, somewhere."""

    def expansion(self, natural: Floats) -> Expansion:
        """One pass at natural parameters, summed over the partitions in their order."""

    def modes(self) -> Floats:
        """The units' modes after the last pass, (U,)."""


class Engine(Protocol):
    """Holds likelihoods in partitions and works off blocks; `notes` are sentences on what a reader should know."""

    @property
    def notes(self) -> tuple[str, ...]:
        """What happened that the report should say."""

    def held(self, likelihood: Likelihood) -> AbstractContextManager[HeldLikelihood]:
        """The likelihood in partitions, for the length of a `with` block."""

    def map(self, function: Callable[[Task], Result], tasks: Iterable[Task]) -> Iterator[Result]:
        """Results in the order of the tasks, of which few are held at once; the function must be a module's."""


class Partitions:
    """Partitions held by one process, by number, each with its units' modes from pass to pass."""

    def __init__(self) -> None:
        self._parts: dict[int, Likelihood] = {}

    def hold(self, number: int, part: Likelihood, passed: Sequence[Floats]) -> None:
        """Take a partition and bring its modes to where the passes so far left them, so that its sums are the same.

        passed : natural parameters of every pass so far, in order.
        """
        for natural in passed:
            part.expansion(natural)
        self._parts[number] = part

    def expansions(self, numbers: Sequence[int], natural: Floats) -> list[Expansion]:
        """One pass over some partitions."""
        return [self._parts[number].expansion(natural) for number in numbers]

    def modes(self, numbers: Sequence[int]) -> list[Floats]:
        """Modes of some partitions' units."""
        return [self._parts[number].modes for number in numbers]


@dataclass(frozen=True)
class Spans:
    """How a likelihood's units are divided: partition i holds units bounds[i] to bounds[i + 1] less one."""

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


def spans(likelihood: Likelihood) -> Spans:
    """Partitions of about equally many drains; how many follows from the number of units alone."""
    starts = likelihood.ratings.starts
    units = starts.size - 1
    count = min(units, max(FEWEST_PARTITIONS, -(-units // PARTITION_UNITS)))
    marks = np.linspace(0, starts[-1], count + 1)
    inner = np.searchsorted(starts, marks[1:-1])
    return Spans(np.unique(np.concatenate(([0], inner, [units]))).astype(np.int64))


def summed(expansions: Iterable[Expansion]) -> Expansion:
    """Partitions' sums, added up from the first to the last."""
    return reduce(add, expansions)


@dataclass(frozen=True)
class _HeldHere:
    """All partitions in this process."""

    partitions: Partitions
    numbers: range

    def expansion(self, natural: Floats) -> Expansion:
        return summed(self.partitions.expansions(self.numbers, natural))

    def modes(self) -> Floats:
        return np.concatenate(self.partitions.modes(self.numbers))


@dataclass(frozen=True)
class LocalEngine:
    """Here, in one process: partition after partition on all threads, blocks side by side on as many threads."""

    notes: tuple[str, ...] = ()

    @contextmanager
    def held(self, likelihood: Likelihood) -> Iterator[HeldLikelihood]:
        """The likelihood in partitions in this process."""
        divided, partitions = spans(likelihood), Partitions()
        for number in range(divided.count):
            partitions.hold(number, divided.part(likelihood, number), ())
        yield _HeldHere(partitions, range(divided.count))

    def map(self, function: Callable[[Task], Result], tasks: Iterable[Task]) -> Iterator[Result]:
        """Results in the order of the tasks; the function should give the interpreter free where it is long."""
        threads = get_num_threads()
        # Threads inside the blocks' small products would only stand in each other's way.
        with threadpool_limits(1, user_api="blas"), ThreadPoolExecutor(threads) as pool:
            waiting: deque[Future[Result]] = deque()
            for task in tasks:
                waiting.append(pool.submit(function, task))
                if len(waiting) > threads * BLOCKS_AHEAD:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()


HERE = LocalEngine()
"""The engine where none is asked for."""
