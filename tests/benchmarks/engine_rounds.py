"""What the engine of large fleets costs: a pass over a partition, a round with workers, a block, and what is sent.

    python -m tests.benchmarks.engine_rounds [DRAINS]

Twenty drains a unit, colour. Each number is the least of a few repeats, by the clock where workers take part, else of
this process's processor. Prints tables in Markdown.
"""

from __future__ import annotations

import os
import pickle
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
from numba import set_num_threads
from threadpoolctl import threadpool_limits

from draincurve.pipeline.deciding.unit_blocks import unit_blocks
from draincurve.pipeline.deciding.unit_scoring import score_block
from draincurve.pipeline.describing.fill_conditions import state_conditions
from draincurve.pipeline.describing.fleet_state import fleet_state
from draincurve.pipeline.describing.rated_drains import describe_channel
from draincurve.pipeline.fitting import OilFit
from draincurve.pipeline.fitting.channel_fit import ChannelFit, fit_channel
from draincurve.pipeline.fitting.engine.dask_engine import DaskEngine
from draincurve.pipeline.fitting.engine.dask_workers import Workers
from draincurve.pipeline.fitting.engine.engine_address import KEEP_MEMORY, ONE_THREAD
from draincurve.pipeline.fitting.engine.local_engine import HERE, Engine, PartitionStore, partitioning
from draincurve.pipeline.fitting.likelihood import Likelihood
from draincurve.pipeline.processing import LARGE_FLEET
from draincurve.pipeline.reading.read_inputs import RunInputs, read
from draincurve.pipeline.reading.sources import source_address
from draincurve.schemas.channels import channel_names
from draincurve.schemas.settings import Settings
from tests.benchmarks.large_fleet import write_large_fleet

AS_OF = date(2026, 6, 20)
DRAINS_A_UNIT = 20
PARTITIONS = (20_000, 50_000, 200_000)
REPEATS = 5


@dataclass(frozen=True)
class Spent:
    """Least seconds of some repeats, by the clock and of this process's processors."""

    clock: float
    processor: float


def least(work: Callable[[], object], repeats: int = REPEATS) -> Spent:
    """Time a piece of work; the first go, which compiles and warms up, does not count."""
    work()
    clocks, processors = [], []
    for _ in range(repeats):
        clock, processor = time.perf_counter(), time.process_time()
        work()
        clocks.append(time.perf_counter() - clock)
        processors.append(time.process_time() - processor)
    return Spent(min(clocks), min(processors))


def fleet(drains: int) -> tuple[dict[str, ChannelFit], pl.DataFrame]:
    """Both channels' fits of an invented fleet, and its state."""
    with tempfile.TemporaryDirectory() as folder:
        write_large_fleet(drains // DRAINS_A_UNIT, drains, Path(folder))
        addresses = [source_address(str(Path(folder) / f"{name}.parquet")) for name in ("drains", "units")]
        inputs = RunInputs(addresses[0], AS_OF, {"units": addresses[1]}, Settings())
        accepted = read(inputs, Settings()).accepted
    state = state_conditions(fleet_state(accepted["drains"], accepted["units"], as_of=AS_OF), 0.167, usual_hours=12.0)
    fits: dict[str, ChannelFit] = {}
    for channel in channel_names():
        fit = fit_channel(describe_channel(accepted["drains"], channel), Settings(), rng=np.random.default_rng(1))
        assert isinstance(fit, ChannelFit)
        fits[channel] = fit
    return fits, state


@contextmanager
def workers(count: int) -> Iterator[Any]:
    """A client of so many worker processes on loopback, one thread each, started as on machines of their own."""
    from distributed import Client, LocalCluster

    with LocalCluster(n_workers=0, processes=True, host="127.0.0.1", dashboard_address="127.0.0.1:0") as cluster:
        words = [str(Path(sys.executable).with_name("dask")), "worker", cluster.scheduler_address]
        words += ["--nthreads", "1", "--no-dashboard", "--local-directory", tempfile.gettempdir()]
        environment = os.environ | ONE_THREAD | KEEP_MEMORY
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        started = [subprocess.Popen(words, env=environment, **quiet) for _ in range(count)]
        try:
            with Client(cluster, direct_to_workers=True) as client:
                client.wait_for_workers(count, timeout=60)
                yield client
        finally:
            for process in started:
                process.terminate()
            for process in started:
                process.wait()


def natural_of(fit: ChannelFit) -> np.ndarray:
    """The fit's natural parameters at its mode."""
    return fit.fit.objective.layout.natural(fit.fit.maximum.point.working)


def pass_rows(fit: ChannelFit) -> list[str]:
    """One partition's pass on one thread, and its bytes."""
    rows, whole, natural = [], fit.fit.objective.likelihood, natural_of(fit)
    set_num_threads(1)
    for drains in PARTITIONS:
        units = np.arange(drains // DRAINS_A_UNIT, dtype=np.int64)
        if units.size > whole.modes.size:
            continue
        part = whole.of_units(units)
        store = PartitionStore()
        store.add(0, part, ())
        spent = least(lambda store=store: store.expansions((0,), natural))  # type: ignore[misc]
        once, back = len(pickle.dumps(part)), len(pickle.dumps(store.expansions((0,), natural)))
        rows.append(
            f"| {part.ratings.low.size:,} drains of {units.size:,} units | {1e3 * spent.processor:.1f} | "
            f"{once / 1e6:.2f} MB, {once / part.ratings.low.size:.0f} a drain | {natural.nbytes} out, {back:,} back |"
        )
    set_num_threads(len(os.sched_getaffinity(0)))
    return rows


def round_spent(engine: Engine, likelihood: Likelihood, natural: np.ndarray) -> Spent:
    """One round over partitions that are held already."""
    with engine.partitioned(likelihood) as partitioned:
        return least(lambda: partitioned.expansion(natural), 20)


def sent_once(engine: Engine, likelihood: Likelihood, natural: np.ndarray) -> float:
    """Seconds until the first round is back: partitions cut, sent and total once."""
    begun = time.perf_counter()
    with engine.partitioned(likelihood) as partitioned:
        partitioned.expansion(natural)
    return time.perf_counter() - begun


def empty_call(client: Any) -> float:
    """Seconds of asking every worker for nothing and having its answer."""
    known = Workers(client)
    actors = [known.actor(address) for address in known.present()]

    def ask() -> None:
        for answer in [actor.ask("modes", ()) for actor in actors]:
            answer()

    return least(ask, 30).clock


def block_words(fits: dict[str, ChannelFit], state: pl.DataFrame) -> str:
    """What one block takes, on one thread, and what is sent for it."""
    block = next(
        unit_blocks(
            OilFit(fits, None), state, {}, np.full(state.height, 8.0), Settings(), units=LARGE_FLEET.block_units
        )
    )
    with threadpool_limits(1, user_api="blas"):
        spent = least(lambda: score_block(block))
    sent, back = len(pickle.dumps(block)), len(pickle.dumps(score_block(block)))
    return (
        f"A block of {LARGE_FLEET.block_units:,} units, both channels: {1e3 * spent.processor:.0f} ms of processor, "
        f"{sent / 1e6:.2f} MB sent, {back / 1e3:,.0f} kB back."
    )


def scored(engine: Engine, fits: dict[str, ChannelFit], state: pl.DataFrame) -> Spent:
    """All of a fleet's blocks."""
    hours = np.full(state.height, 8.0)
    caps = {"maker_limit": np.full(state.height, 40.0)}

    def blocks() -> None:
        for _ in engine.map(
            score_block,
            unit_blocks(OilFit(fits, None), state, caps, hours, Settings(), units=LARGE_FLEET.block_units),
        ):
            pass

    return least(blocks, 2)


def main(drains: int) -> None:
    """Measure and print."""
    fits, state = fleet(drains)
    fit = fits["colour"]
    whole, natural = fit.fit.objective.likelihood, natural_of(fit)
    small = whole.of_units(np.arange(2_001, dtype=np.int64)[: whole.modes.size])
    print(f"Python {platform.python_version()}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}, ", end="")
    print(f"{natural.size} natural parameters\n")
    print("| partition | ms of processor a pass, one thread | sent once | bytes a round |\n| --- | --- | --- | --- |")
    print("\n".join(pass_rows(fit)))
    print(f"\n{block_words(fits, state)}\n")
    print(f"| where | nothing asked | round, {small.ratings.low.size:,} drains | ", end="")
    print(f"round, {whole.ratings.low.size:,} drains | cut, sent and total once | scoring, 1,000 units |")
    print("| --- | --- | --- | --- | --- | --- |")
    print(row("here", "", HERE, small, whole, natural, fits, state), flush=True)
    for count in (1, 2):
        with workers(count) as client:
            nothing = f"{1e3 * empty_call(client):.1f} ms"
            engine = DaskEngine(Workers(client))
            print(row(f"{count} workers", nothing, engine, small, whole, natural, fits, state), flush=True)
    print(
        f"\nPartitions: {partitioning(small).count} of the smaller fleet, {partitioning(whole).count} of the larger."
    )


def row(
    where: str,
    nothing: str,
    engine: Engine,
    small: Likelihood,
    whole: Likelihood,
    natural: np.ndarray,
    fits: dict[str, ChannelFit],
    state: pl.DataFrame,
) -> str:
    """One engine's row of the second table, by the clock."""
    rounds = [1e3 * round_spent(engine, likelihood, natural).clock for likelihood in (small, whole)]
    once = 1e3 * sent_once(engine, whole, natural)
    scoring = 1e6 * scored(engine, fits, state).clock / state.height
    return f"| {where} | {nothing} | {rounds[0]:.1f} ms | {rounds[1]:.1f} ms | {once:.0f} ms | {scoring:.0f} ms |"


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200_000)
