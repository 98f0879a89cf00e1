"""Workers of a Dask cluster: which are there, actors on them, and answers that never come because one was lost."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import CancelledError
from typing import Any, NoReturn

from distributed import Client, KilledWorker

from draincurve.pipeline.fitting.engine.local_engine import Partitions
from draincurve.schemas.errors import DraincurveError, EngineError

LOOK_AGAIN_S = 2.0
"""Seconds after which it is looked whether a worker that has not answered is still there."""

GIVE_UP_S = 20.0
"""Seconds without any worker after which the rest is done here; a nanny brings a killed one back in two."""

GONE = (OSError, KilledWorker, CancelledError)
"""What a call raises whose worker, or scheduler, is gone."""


class WorkerLostError(Exception):
    """A worker is gone, and what it held with it."""


class Workers:
    """The workers that a client's scheduler knows, and how many were found to be lost."""

    def __init__(self, client: Client, give_up_s: float = GIVE_UP_S) -> None:
        self.client = client
        self.lost = 0
        self.all_lost = False
        self._give_up_s = give_up_s

    def there(self) -> dict[str, int]:
        """Addresses of the workers in order, with their threads; none where the scheduler does not answer."""
        if self.client.status != "running":
            return {}
        try:
            return dict(sorted(self.client.nthreads().items()))  # type: ignore[no-untyped-call]
        except (OSError, RuntimeError, AttributeError):  # the scheduler goes while it is asked
            return {}

    def awaited(self) -> dict[str, int]:
        """The workers that are there; where there are none, one is waited for, once."""
        until = time.monotonic() + self._give_up_s
        while not self.all_lost:
            if found := self.there():
                return found
            self.all_lost = time.monotonic() > until
            time.sleep(LOOK_AGAIN_S / 10)
        return {}

    def forget(self, address: str) -> None:
        """Count a lost worker, and wait a little until the scheduler knows of it too and gives it nothing more."""
        self.lost += 1
        until = time.monotonic() + LOOK_AGAIN_S
        while address in self.there() and time.monotonic() < until:
            time.sleep(LOOK_AGAIN_S / 50)

    def actor(self, address: str) -> WorkerActor:
        """A new actor on one worker, which may turn out to be lost."""
        return WorkerActor(self, address)


class WorkerActor:
    """Partitions held by one worker."""

    def __init__(self, workers: Workers, address: str) -> None:
        self._workers = workers
        self._address = address
        self._created = workers.client.submit(Partitions, actor=True, workers=[address], pure=False)
        self._actor: Any = None
        self._gone = False

    def ask(self, method: str, *arguments: object) -> Callable[[], Any]:
        """Begin a call of Partitions; what comes back waits for the answer.

        That raises WorkerLostError where there will be none, and EngineError where the worker could not do it.
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
        """The value of an answer, in whatever time it takes while the worker is there.

        gone : what it raises where the worker is lost; a RuntimeError is what an actor says of that.
        """
        while True:
            try:
                return answer.result(timeout=LOOK_AGAIN_S)
            except TimeoutError:
                if self._address not in self._workers.there():
                    self._lost()
            except gone:
                self._lost()
            except DraincurveError:
                raise
            except Exception as fault:
                raise worker_fault(fault) from fault


def reached_directly(client: Client) -> bool:
    """Whether workers can be asked without the scheduler in between, which is several times as fast."""
    client.direct_to_workers = True
    workers = Workers(client)
    try:
        workers.actor(next(iter(workers.there()))).ask("modes", ())()
    except (WorkerLostError, StopIteration):
        return False
    return True


def worker_fault(fault: Exception) -> EngineError:
    """What to say of something that went wrong on a worker."""
    return EngineError(
        f"a worker of the cluster failed ({type(fault).__name__}: {fault}); look into its log, give its workers more "
        "memory or add workers, or run without --engine"
    )
