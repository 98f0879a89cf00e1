"""Which engine an address names, and how it is reached: `dask://HOST:PORT`, `local-cluster`, or none."""

from __future__ import annotations

import logging
import os
import platform
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from importlib.metadata import PackageNotFoundError, version
from importlib.util import find_spec
from typing import TYPE_CHECKING

from draincurve.pipeline.fitting.engine.local_engine import HERE, Engine, LocalEngine
from draincurve.pipeline.processing import LARGE_FLEET_UNITS, FleetProcessing
from draincurve.schemas.errors import EngineError

if TYPE_CHECKING:
    from distributed import Client

LOCAL_CLUSTER = "local-cluster"
CONNECT_S = 10.0
"""Seconds in which a scheduler has to answer, and to have its first worker."""

ONE_THREAD = {
    "NUMBA_NUM_THREADS": "1",
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "MKL_NUM_THREADS": "1",
    "POLARS_MAX_THREADS": "1",
}
"""What a worker's environment says, so that workers beside each other do not crowd the cores."""

KEEP_MEMORY = {"MALLOC_TRIM_THRESHOLD_": "268435456", "MALLOC_MMAP_THRESHOLD_": "33554432"}
"""What its environment says before it starts: Dask's own setting gives every array back to the system, and fetching
memory anew takes as long as scoring a block."""

_FORM = re.compile(r"dask://(?P<host>[^\s/:]+|\[[0-9a-fA-F:]+\]):(?P<port>\d{1,5})/?")

COMPARED_VERSIONS = ("draincurve", "numpy", "scipy", "numba", "polars")
"""Packages that must be alike here and on a worker: other versions may give other last digits."""

EngineFor = Callable[[FleetProcessing, int], Engine]


@contextmanager
def engine_at(address: str | None) -> Iterator[EngineFor]:
    """The engine for a fleet's processing and number of units, to be asked for once the fleet is known.

    A scheduler is looked for at once, so that a wrong address does not wait for a long log to be read; workers here
    are started only for a large fleet. Raises EngineError for an address that names no engine or cannot be reached,
    and where Dask is not installed.
    """
    with ExitStack() as stack:
        if address is None:
            yield lambda _, __: HERE
            return
        scheduler = scheduler_address(address)
        refuse_without_dask(address)
        client = None if scheduler is None else stack.enter_context(_connected(address, scheduler))

        def engine_for(processing: FleetProcessing, units: int) -> Engine:
            if not processing.workers:
                return LocalEngine((_small(units),))
            from draincurve.pipeline.fitting.engine.dask_engine import DaskEngine
            from draincurve.pipeline.fitting.engine.dask_workers import Workers

            return DaskEngine(Workers(client or stack.enter_context(_workers_here())))

        yield engine_for


def scheduler_address(address: str) -> str | None:
    """Dask's own address of a scheduler, None for workers that are started here; raises EngineError for another."""
    if address == LOCAL_CLUSTER:
        return None
    found = _FORM.fullmatch(address)
    if found is None or not 0 < int(found["port"]) < 65_536:
        raise EngineError(
            f"--engine {address}: names no engine; expected dask://HOST:PORT, such as dask://192.0.2.7:8786, for a "
            f"running Dask scheduler, or {LOCAL_CLUSTER} for workers on this machine"
        )
    return f"tcp://{found['host']}:{found['port']}"


def refuse_without_dask(address: str) -> None:
    """Raise EngineError where Dask distributed is not installed."""
    if find_spec("distributed") is None:
        raise EngineError(
            f"--engine {address}: Dask distributed is not installed; install it with "
            "pip install 'draincurve[distributed]', or leave --engine out"
        )


def _small(units: int) -> str:
    return (
        f"An engine was asked for, but a fleet of {units:,} units is quickest here: it is used for fleets of over "
        f"{LARGE_FLEET_UNITS:,} units."
    )


@contextmanager
def _connected(address: str, scheduler: str) -> Iterator[Client]:
    """A client of a running scheduler that has workers with the same versions as here."""
    from draincurve.pipeline.fitting.engine.dask_workers import reached_directly

    with _dask_at_work(), _client(address, scheduler) as client:
        _refuse_unfit_workers(client, address)
        client.direct_to_workers = reached_directly(client)
        yield client


def _client(address: str, scheduler: str) -> Client:
    from distributed import Client

    try:
        return Client(scheduler, timeout=CONNECT_S)  # type: ignore[no-untyped-call]
    except (OSError, ValueError) as fault:
        raise EngineError(
            f"--engine {address}: no Dask scheduler answers there ({_reason(fault)}); start one with "
            "`dask scheduler`, check host, port and firewall, or leave --engine out"
        ) from fault


def _refuse_unfit_workers(client: Client, address: str) -> None:
    try:
        client.wait_for_workers(1, timeout=CONNECT_S)
    except TimeoutError as fault:
        raise EngineError(
            f"--engine {address}: the scheduler has no workers; start some with `dask worker HOST:PORT`, on machines "
            "with this version of draincurve"
        ) from fault
    here = versions_here()
    for worker, there in sorted(client.run(versions_here, on_error="return").items()):
        said = f"it has no draincurve ({there})" if isinstance(there, BaseException) else differences(here, there)
        if said:
            raise EngineError(
                f"--engine {address}: worker {worker} cannot be used: {said}; install the same versions there, or "
                "stop that worker"
            )


@contextmanager
def _workers_here() -> Iterator[Client]:
    """A client of workers on this machine, one for each core, which end with it."""
    import dask
    from distributed import Client, LocalCluster

    before = {f"distributed.nanny.pre-spawn-environ.{name}": value for name, value in KEEP_MEMORY.items()}
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    with (
        _dask_at_work(),
        dask.config.set(before),
        LocalCluster(  # type: ignore[no-untyped-call]
            n_workers=cores,
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            dashboard_address="127.0.0.1:0",
            silence_logs=logging.CRITICAL,
            env=ONE_THREAD,
        ) as cluster,
        Client(cluster, direct_to_workers=True) as client,  # type: ignore[no-untyped-call]
    ):
        yield client


@contextmanager
def _dask_at_work() -> Iterator[None]:
    """Dask's settings meanwhile: blocks are larger than what it warns of, lost workers are told by the engine."""
    import dask
    from distributed.utils import silence_logging_cmgr

    changed = {"distributed.admin.large-graph-warning-threshold": "1 GiB", "distributed.comm.timeouts.connect": "10s"}
    with dask.config.set(changed), silence_logging_cmgr(logging.CRITICAL):
        yield


def _reason(fault: BaseException) -> str:
    """What lies at the bottom of a fault, in the system's words."""
    while fault.__cause__ is not None:
        fault = fault.__cause__
    return getattr(fault, "strerror", None) or str(fault) or type(fault).__name__


def versions_here() -> dict[str, str]:
    """Versions of this process; what is not installed has an empty one."""
    return {"python": platform.python_version()} | {name: _version(name) for name in COMPARED_VERSIONS}


def differences(here: Mapping[str, str], there: Mapping[str, str]) -> str:
    """Words for what differs, such as "numpy 2.4.6 here, 2.4.5 there"; empty where nothing does."""
    return "; ".join(
        f"{name} {here[name]} here, {there.get(name) or 'none'} there"
        for name in here
        if there.get(name) != here[name]
    )


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return ""
