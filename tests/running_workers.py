"""Two real worker processes of a Dask cluster on loopback, for the tests of one module: idle, they use up time."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest

from draincurve.pipeline.fitting.engine.engine_address import ONE_THREAD

WORKERS = 2


@dataclass(frozen=True)
class RunningWorkers:
    """A cluster whose killed workers come back."""

    cluster: Any

    @property
    def address(self) -> str:
        """As `--engine` takes it."""
        return self.cluster.scheduler_address.replace("tcp://", "dask://")

    def processes(self) -> list[int]:
        """Process ids of the workers, once all of them are there."""
        until = time.monotonic() + 180.0
        while time.monotonic() < until:
            running = [worker for worker in self.cluster.workers.values() if worker.status.name == "running"]
            found = [worker.pid for worker in running if worker.pid]
            if len(found) == WORKERS == len(self.cluster.scheduler.workers):
                return found
            time.sleep(0.05)
        raise TimeoutError("the workers did not come back")

    def kill(self, which: int = 0) -> None:
        """Kill one worker as the system would."""
        os.kill(self.processes()[which], signal.SIGKILL)


@pytest.fixture(scope="module")
def running_workers() -> Iterator[RunningWorkers]:
    import logging

    from distributed import LocalCluster

    with LocalCluster(
        n_workers=WORKERS,
        threads_per_worker=1,
        processes=True,
        host="127.0.0.1",
        dashboard_address="127.0.0.1:0",
        env=ONE_THREAD,
        silence_logs=logging.CRITICAL,
    ) as cluster:
        yield RunningWorkers(cluster)
