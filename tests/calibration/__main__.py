"""Calibration study: `python -m tests.calibration`, about six minutes on two quiet cores; `--quick` takes one."""

from __future__ import annotations

import argparse
import multiprocessing
import os
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from datetime import date
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

from tests.calibration.scored_fleet import FleetScore
from tests.calibration.study_cells import Job, cells, jobs, run_job
from tests.calibration.study_text import study_text
from tests.calibration.truths import TRUTHS

RESULTS = Path(__file__).resolve().parents[2] / "docs" / "results" / "calibration.md"
_ONE_THREAD = ("NUMBA_NUM_THREADS", "OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "POLARS_MAX_THREADS")


def main() -> None:
    """Run the study, print its tables, and write them where the whole study was run or a file is named."""
    options = _options()
    begin = time.perf_counter()
    chosen = [cell for cell in cells(options.quick) if not options.truth or cell.truth in options.truth]
    todo = jobs(chosen, options.seed)
    scores = sorted(_scored(todo, options.workers), key=lambda item: (item[0].cell.number, item[0].index))
    facts = (
        f"Run on {date.today().isoformat()}, seed {options.seed}, {len(todo)} fleets, "
        f"{sum(job.cell.units for job in todo):,} units, {time.perf_counter() - begin:.0f} s with {options.workers} "
        f"processes{', quick' if options.quick else ''}."
    )
    text = study_text(scores, facts)
    Console().print(text, markup=False, soft_wrap=True)
    whole = not options.quick and not options.truth
    path = options.out or (RESULTS if whole else None)
    if path:
        path.write_text(text, encoding="utf-8")


def _scored(todo: list[Job], workers: int) -> Iterator[tuple[Job, FleetScore]]:
    """Every job's score, as they come; each process keeps to one thread."""
    os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))
    context = multiprocessing.get_context("spawn")
    columns = (TextColumn("fleets"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with ProcessPoolExecutor(workers, mp_context=context) as pool, Progress(*columns) as progress:
        task = progress.add_task("fleets", total=sum(job.cell.units * job.drains for job in todo))
        for future in as_completed([pool.submit(run_job, job) for job in todo]):
            job, score = future.result()
            progress.advance(task, job.cell.units * job.drains)
            yield job, score


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.calibration", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="one fleet in eight, none of 1,000 units or more")
    parser.add_argument("--truth", action="append", choices=list(TRUTHS), help="only this truth; may be repeated")
    parser.add_argument("--seed", type=int, default=20260101)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--out", type=Path, help="where to write the tables")
    return parser.parse_args()


if __name__ == "__main__":
    main()
