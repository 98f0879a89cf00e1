"""The engine that an address names, `dask://HOST:PORT`, `local-cluster` or none, and the connection to it."""

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
"""Seconds within which a scheduler must answer, and have its first worker."""

ONE_THREAD = {
    "NUMBA_NUM_THREADS": "1",
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "MKL_NUM_THREADS": "1",
    "POLARS_MAX_THREADS": "1",
}
"""Environment of a worker, so that several workers on a machine do not compete for its cores."""

KEEP_MEMORY = {"MALLOC_TRIM_THRESHOLD_": "268435456", "MALLOC_MMAP_THRESHOLD_": "33554432"}
"""Environment before it starts: Dask's default returns every freed array to the system, and allocating it again takes
as long as scoring a block."""

_FORM = re.compile(r"dask://(?P<host>[^\s/:]+|\[[0-9a-fA-F:]+\]):(?P<port>\d{1,5})/?")

COMPARED_VERSIONS = ("draincurve", "numpy", "scipy", "numba", "polars")
"""Packages whose versions must be the same here and on a worker, because others may give other last digits."""

EngineFor = Callable[[FleetProcessing, int], Engine]


@contextmanager
def engine_at(address: str | None) -> Iterator[EngineFor]:
    """A function from a fleet's processing and number of units to its engine, for when the fleet is known.

    A scheduler is connected at once, so that a wrong address fails before a long log is read; workers on this machine
    are started only for a large fleet. Raises EngineError for an address that names no engine or cannot be reached,
    and if Dask is not installed.
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
                return LocalEngine((_not_used(units),))
            from draincurve.pipeline.fitting.engine.dask_engine import DaskEngine
            from draincurve.pipeline.fitting.engine.dask_workers import Workers

            return DaskEngine(Workers(client or stack.enter_context(_local_workers())))

        yield engine_for


def scheduler_address(address: str) -> str | None:
    """The scheduler's address as Dask takes it, None for workers on this machine; raises EngineError for others."""
    if address == LOCAL_CLUSTER:
        return None
    match = _FORM.fullmatch(address)
    if match is None or not 0 < int(match["port"]) < 65_536:
        raise EngineError(
            f"--engine {address}: names no engine; expected dask://HOST:PORT, such as dask://192.0.2.7:8786, for a "
            f"running Dask scheduler, or {LOCAL_CLUSTER} for workers on this machine"
        )
    return f"tcp://{match['host']}:{match['port']}"


def refuse_without_dask(address: str) -> None:
    """Raise EngineError if Dask distributed is not installed."""
    if find_spec("distributed") is None:
        raise EngineError(
            f"--engine {address}: Dask distributed is not installed; install it with "
            "pip install 'draincurve[distributed]', or leave --engine out"
        )


def _not_used(units: int) -> str:
    return (
        f"An engine was asked for, but a fleet of {units:,} units is quickest here: it is used for fleets of over "
        f"{LARGE_FLEET_UNITS:,} units."
    )


@contextmanager
def _connected(address: str, scheduler: str) -> Iterator[Client]:
    """A client of a running scheduler whose workers have the same versions as this process."""
    from draincurve.pipeline.fitting.engine.dask_workers import reached_directly

    with _dask_settings(), _client(address, scheduler) as client:
        _check_workers(client, address)
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


def _check_workers(client: Client, address: str) -> None:
    """Raise EngineError if there are no workers, or some with other versions."""
    try:
        client.wait_for_workers(1, timeout=CONNECT_S)
    except TimeoutError as fault:
        raise EngineError(
            f"--engine {address}: the scheduler has no workers; start some with `dask worker HOST:PORT`, on machines "
            "with this version of draincurve"
        ) from fault
    here = package_versions()
    for worker, there in sorted(client.run(package_versions, on_error="return").items()):
        difference = (
            f"it has no draincurve ({there})" if isinstance(there, BaseException) else differences(here, there)
        )
        if difference:
            raise EngineError(
                f"--engine {address}: worker {worker} cannot be used: {difference}; install the same versions there, "
                "or stop that worker"
            )


@contextmanager
def _local_workers() -> Iterator[Client]:
    """A client of new workers on this machine, one for each core, which stop with it."""
    import dask
    from distributed import Client, LocalCluster

    before = {f"distributed.nanny.pre-spawn-environ.{name}": value for name, value in KEEP_MEMORY.items()}
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    with (
        _dask_settings(),
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
def _dask_settings() -> Iterator[None]:
    """Dask's settings for a run: no warning of large tasks, and no log of lost workers, which the engine reports."""
    import dask
    from distributed.utils import silence_logging_cmgr

    changed = {"distributed.admin.large-graph-warning-threshold": "1 GiB", "distributed.comm.timeouts.connect": "10s"}
    with dask.config.set(changed), silence_logging_cmgr(logging.CRITICAL):
        yield


def _reason(fault: BaseException) -> str:
    """The message of the first cause of a fault."""
    while fault.__cause__ is not None:
        fault = fault.__cause__
    return getattr(fault, "strerror", None) or str(fault) or type(fault).__name__


def package_versions() -> dict[str, str]:
    """Versions in this process, empty for a package that is not installed."""
    return {"python": platform.python_version()} | {name: _version(name) for name in COMPARED_VERSIONS}


def differences(here: Mapping[str, str], there: Mapping[str, str]) -> str:
    """The differences in words, such as "numpy 2.4.6 here, 2.4.5 there"; empty if there are none."""
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
