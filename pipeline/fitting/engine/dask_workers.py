"""Workers of a Dask cluster: which are present, actors on them, and calls that fail because a worker was lost."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import CancelledError
from typing import Any, NoReturn

from distributed import Client, KilledWorker

from draincurve.pipeline.fitting.engine.local_engine import PartitionStore
from draincurve.schemas.errors import DraincurveError, EngineError

POLL_S = 2.0
"""Seconds between checks whether a worker that has not answered is still present."""

GIVE_UP_S = 20.0
"""Seconds without any worker after which this process computes the rest; a nanny restarts a killed one in two."""

GONE = (OSError, KilledWorker, CancelledError)
"""What a call raises if its worker or the scheduler is lost."""


class WorkerLostError(Exception):
    """A worker is lost, with the partitions that it had."""


class Workers:
    """The workers that a client's scheduler knows, and how many were lost."""

    def __init__(self, client: Client, give_up_s: float = GIVE_UP_S) -> None:
        self.client = client
        self.lost = 0
        self.all_lost = False
        self._give_up_s = give_up_s

    def present(self) -> dict[str, int]:
        """Sorted addresses of the workers with their threads; none if the scheduler does not answer."""
        if self.client.status != "running":
            return {}
        try:
            return dict(sorted(self.client.nthreads().items()))  # type: ignore[no-untyped-call]
        except (OSError, RuntimeError, AttributeError):  # the scheduler stopped in between
            return {}

    def awaited(self) -> dict[str, int]:
        """The workers that are present; if there are none, wait for one, but only once."""
        until = time.monotonic() + self._give_up_s
        while not self.all_lost:
            if workers := self.present():
                return workers
            self.all_lost = time.monotonic() > until
            time.sleep(POLL_S / 10)
        return {}

    def forget(self, address: str) -> None:
        """Count a lost worker, and wait a little until the scheduler knows it too and sends it nothing more."""
        self.lost += 1
        until = time.monotonic() + POLL_S
        while address in self.present() and time.monotonic() < until:
            time.sleep(POLL_S / 50)

    def actor(self, address: str) -> WorkerActor:
        """A new actor on one worker, which may prove to be lost."""
        return WorkerActor(self, address)


class WorkerActor:
    """The partition store of one worker."""

    def __init__(self, workers: Workers, address: str) -> None:
        self._workers = workers
        self._address = address
        self._created = workers.client.submit(PartitionStore, actor=True, workers=[address], pure=False)
        self._actor: Any = None
        self._gone = False

    def ask(self, method: str, *arguments: object) -> Callable[[], Any]:
        """Begin a call of `PartitionStore`; calling the result waits for the answer.

        That raises WorkerLostError if the worker is lost, and EngineError if the call failed there.
        """
        if self._gone:
            return self._lost
        try:
            if self._actor is None:
                self._actor = self._waited(self._created, (*GONE, RuntimeError))
            answer = getattr(self._actor, method)(*arguments)
        except (WorkerLostError, RuntimeError):
            return self._lost
        return lambda: self._waited(answer)

    def _lost(self) -> NoReturn:
        self._gone = True
        raise WorkerLostError(self._address)

    def _waited(self, answer: Any, gone: tuple[type[Exception], ...] = GONE) -> Any:
        """The value of an answer, however long it takes, while the worker is present.

        gone : the exceptions that mean that the worker is lost; actors raise RuntimeError for it
        """
        while True:
            try:
                return answer.result(timeout=POLL_S)
            except TimeoutError:
                if self._address not in self._workers.present():
                    self._lost()
            except gone:
                self._lost()
            except DraincurveError:
                raise
            except Exception as fault:
                raise worker_fault(fault) from fault


def reached_directly(client: Client) -> bool:
    """Whether workers can be called without the scheduler in between, which is several times as fast."""
    client.direct_to_workers = True
    workers = Workers(client)
    try:
        workers.actor(next(iter(workers.present()))).ask("modes", ())()
    except (WorkerLostError, StopIteration):
        return False
    return True


def worker_fault(fault: Exception) -> EngineError:
    """The error for a failure on a worker."""
    return EngineError(
        f"a worker of the cluster failed ({type(fault).__name__}: {fault}); look into its log, give its workers more "
        "memory or add workers, or run without --engine"
    )
