"""The engine on the workers of a Dask cluster: partitions of a fit are in actors, blocks are plain tasks.

Dask gives a lost worker's tasks to another worker; without any worker, the rest is computed in this process.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

from draincurve.pipeline.fitting.engine.dask_likelihood import DaskLikelihood
from draincurve.pipeline.fitting.engine.dask_workers import GONE, POLL_S, Workers, worker_fault
from draincurve.pipeline.fitting.engine.local_engine import TASKS_AHEAD, PartitionedLikelihood
from draincurve.pipeline.fitting.likelihood import Likelihood
from draincurve.schemas.errors import DraincurveError

Task = TypeVar("Task")
Result = TypeVar("Result")


class DaskEngine:
    """The engine of some workers."""

    def __init__(self, workers: Workers) -> None:
        self._workers = workers

    @property
    def notes(self) -> tuple[str, ...]:
        """A sentence for the report on workers that were lost."""
        if self._workers.all_lost:
            return ("All workers of the cluster were lost, so the rest was computed here; answers are the same.",)
        if self._workers.lost:
            return ("Workers of the cluster were lost; others took over, and answers are the same.",)
        return ()

    @contextmanager
    def partitioned(self, likelihood: Likelihood) -> Iterator[PartitionedLikelihood]:
        """The likelihood in partitions on the workers."""
        yield DaskLikelihood(self._workers, likelihood)

    def map(self, function: Callable[[Task], Result], tasks: Iterable[Task]) -> Iterator[Result]:
        """Results in the order of the tasks, of which only a few are submitted ahead."""
        most = (1 + TASKS_AHEAD) * max(1, sum(self._workers.present().values()))
        waiting: deque[tuple[Task, Any]] = deque()
        for task in tasks:
            waiting.append((task, self._submitted(function, task)))
            if len(waiting) > most:
                yield self._result(function, *waiting.popleft())
        while waiting:
            yield self._result(function, *waiting.popleft())

    def _submitted(self, function: Callable[[Task], Result], task: Task) -> Any:
        """The future of a task; None where all workers are lost."""
        if not self._workers.awaited():
            return None
        return self._workers.client.submit(function, task, pure=False)

    def _result(self, function: Callable[[Task], Result], task: Task, future: Any) -> Result:
        """The result of a task, computed in this process where no worker can."""
        while future is not None and self._workers.awaited():
            try:
                result: Result = future.result(timeout=POLL_S)
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
