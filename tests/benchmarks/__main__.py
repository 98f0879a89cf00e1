"""Run every benchmark, print the tables and write them to results.md beside this file.

Takes about fifteen minutes, most of it the rivals'. Chapters may be named to print them alone, without writing:

    python -m tests.benchmarks [fits | reading | pass | program ...]
"""

from __future__ import annotations

import os
import platform
import sys
from collections.abc import Callable
from pathlib import Path

from tests.benchmarks.chapter import Chapter, in_short
from tests.benchmarks.degradation_fits import large_fleet
from tests.benchmarks.machine import machine
from tests.benchmarks.pass_limit import pass_limit
from tests.benchmarks.peers.mixed_fits import mixed_fits
from tests.benchmarks.rating_fits import Row, second_start, with_units
from tests.benchmarks.reading import reading_beside_pandas
from tests.benchmarks.whole_program import help_time, plans

RESULTS = Path(__file__).with_name("results.md")


def program() -> Chapter:
    """The program alone, against its goals."""
    rows: list[Row] = [row for part in (with_units, second_start, large_fleet, help_time, plans) for row in part()]
    lines = ["## The program alone, against its goals\n", "| what | measured | goal |", "| --- | --- | --- |"]
    return Chapter("\n".join(lines + [f"| {row.what} | {row.value} | {row.goal} |" for row in rows]) + "\n")


CHAPTERS: dict[str, Callable[[], Chapter]] = {
    "program": program,
    "fits": mixed_fits,
    "reading": reading_beside_pandas,
    "pass": pass_limit,
}


def main(asked: list[str]) -> None:
    """One run: all that is compared was measured on the same machine, one after the other."""
    if unknown := sorted(set(asked) - set(CHAPTERS)):
        raise SystemExit(f"no chapter {', '.join(unknown)}; there are {', '.join(CHAPTERS)}")
    before = os.getloadavg()[0]
    chapters = [chapter() for name, chapter in CHAPTERS.items() if not asked or name in asked]
    head = (
        "# Benchmarks\n\nBy `make bench` (`python -m tests.benchmarks`), in one run. "
        f"Load {before:.1f} at the beginning, {os.getloadavg()[0]:.1f} at the end.\n\n"
        f"Python {platform.python_version()}, {machine()}.\n\n"
    )
    short = f"## In short\n\nLog likelihoods are the arbiter's, the higher the better.\n\n{in_short(chapters)}\n"
    text = head + short + "\n".join(chapter.text for chapter in chapters)
    if not asked:
        RESULTS.write_text(text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main(sys.argv[1:])
