"""The engine on the workers of a Dask cluster: partitions of a fit are held by actors, blocks are plain tasks.

Dask itself hands a lost worker's tasks to another; where no worker is left, what remains is done here.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

from draincurve.pipeline.fitting.engine.dask_partitions import PlacedPartitions
from draincurve.pipeline.fitting.engine.dask_workers import GONE, LOOK_AGAIN_S, Workers, worker_fault
from draincurve.pipeline.fitting.engine.local_engine import BLOCKS_AHEAD, HeldLikelihood
from draincurve.pipeline.fitting.likelihood import Likelihood
from draincurve.schemas.errors import DraincurveError

Task = TypeVar("Task")
Result = TypeVar("Result")


class DaskEngine:
    """The engine on some workers."""

    def __init__(self, workers: Workers) -> None:
        self._workers = workers

    @property
    def notes(self) -> tuple[str, ...]:
        """What a reader should know of workers that were lost."""
        if self._workers.all_lost:
            return ("All workers of the cluster were lost, so the rest was computed here; answers are the same.",)
        if self._workers.lost:
            return ("Workers of the cluster were lost; others took over, and answers are the same.",)
        return ()

    @contextmanager
    def held(self, likelihood: Likelihood) -> Iterator[HeldLikelihood]:
        """The likelihood in partitions on the workers."""
        yield PlacedPartitions(self._workers, likelihood)

    def map(self, function: Callable[[Task], Result], tasks: Iterable[Task]) -> Iterator[Result]:
        """Results in the order of the tasks, a few of which are on their way at any time."""
        most = (1 + BLOCKS_AHEAD) * max(1, sum(self._workers.there().values()))
        waiting: deque[tuple[Task, Any]] = deque()
        for task in tasks:
            waiting.append((task, self._begun(function, task)))
            if len(waiting) > most:
                yield self._done(function, *waiting.popleft())
        while waiting:
            yield self._done(function, *waiting.popleft())

    def _begun(self, function: Callable[[Task], Result], task: Task) -> Any:
        """A task on its way, as a future; None where all workers are lost."""
        if not self._workers.awaited():
            return None
        return self._workers.client.submit(function, task, pure=False)

    def _done(self, function: Callable[[Task], Result], task: Task, future: Any) -> Result:
        """The result of a task, which is worked off here where no worker can."""
        while future is not None and self._workers.awaited():
            try:
                result: Result = future.result(timeout=LOOK_AGAIN_S)
            except TimeoutError:
                continue
            except GONE:
                self._workers.lost += 1
                break
            except DraincurveError:
                raise
            except Exception as fault:
                raise worker_fault(fault) from fault
            return result
        return function(task)
