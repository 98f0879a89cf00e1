"""Run every benchmark, print the table and write it to results.md beside this file."""

from __future__ import annotations

import os
import platform
from importlib.metadata import version
from pathlib import Path

from tests.benchmarks.degradation_fits import large_fleet
from tests.benchmarks.rating_fits import Row, beside_statsmodels, second_start, with_units
from tests.benchmarks.whole_program import help_time, plans

RESULTS = Path(__file__).with_name("results.md")
LIBRARIES = ("numpy", "numba", "scipy", "statsmodels", "polars", "scikit-learn")


def table(rows: list[Row]) -> str:
    """A table in Markdown."""
    lines = ["| what | measured | goal |", "| --- | --- | --- |"]
    return "\n".join(lines + [f"| {row.what} | {row.value} | {row.goal} |" for row in rows])


def main() -> None:
    """One run: everything below was measured on the same machine, one after the other."""
    parts = (with_units, second_start, beside_statsmodels, large_fleet, help_time, plans)
    rows = [row for part in parts for row in part()]
    load = os.getloadavg()[0]
    machine = f"Python {platform.python_version()}, {os.cpu_count()} cores, load at the end {load:.1f}, " + ", ".join(
        f"{name} {version(name)}" for name in LIBRARIES
    )
    text = f"# Benchmarks\n\nBy `python -m tests.benchmarks`. {machine}.\n\n{table(rows)}\n"
    RESULTS.write_text(text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
