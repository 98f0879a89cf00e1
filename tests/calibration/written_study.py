"""A study from the command line: run with its options on one thread, printed, and written with how it was run."""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import NamedTuple, TypeVar

from rich.console import Console

from draincurve.pipeline.fitting.thread_limits import one_thread

RESULTS = Path(__file__).resolve().parents[2] / "docs" / "results"
Scores = TypeVar("Scores")


class Options(NamedTuple):
    """Seed of a study, and its fleets a line, 0 where the study has its own number for each."""

    seed: int
    fleets: int


def write_study(
    run: Callable[[Options], Scores],
    text: Callable[[Scores, str], str],
    *,
    name: str,
    description: str | None,
    seed: int = 20260101,
    fleets: int = 0,
) -> None:
    """Runs a study, prints its text, and writes it to a file of docs/results, or to --out.

    text : Markdown of what `run` gave and of a sentence on when and how it was run.  name : of the file.
    seed, fleets : the defaults of the options; without fleets there is no such option.
    """
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("--seed", type=int, default=seed)
    if fleets:
        parser.add_argument("--fleets", type=int, default=fleets)
    parser.add_argument("--out", type=Path, default=RESULTS / name)
    given = parser.parse_args()
    options = Options(given.seed, given.fleets if fleets else 0)
    begin = time.perf_counter()
    with one_thread():
        scores = run(options)
    took = f"{time.perf_counter() - begin:.0f} s on one thread"
    each = f"{options.fleets} fleets a line, " if fleets else ""
    written = text(scores, f"Run on {date.today().isoformat()}, seed {options.seed}, {each}{took}.")
    Console().print(written, markup=False, soft_wrap=True)
    given.out.write_text(written, encoding="utf-8")
