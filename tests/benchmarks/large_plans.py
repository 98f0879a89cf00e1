"""`draincurve plan` on large invented fleets, each run a process of its own, with its peak memory.

    python -m tests.benchmarks.large_plans [DRAINS ...]

Twenty drains a unit. `bad` runs `check` on a log in which every row is wrong. Prints a table in Markdown.
"""

from __future__ import annotations

import os
import platform
import sys
import tempfile
from importlib.metadata import version
from pathlib import Path

import polars as pl

from tests.benchmarks.large_fleet import write_large_fleet
from tests.benchmarks.rating_fits import Row
from tests.benchmarks.whole_program import run_measured

AS_OF = "2026-06-20"
DRAINS_A_UNIT = 20
SIZES = (20_000, 200_000, 2_000_000)


def plan_row(drains: int, kind: str, folder: Path) -> Row:
    """One plan of a fleet of so many drains."""
    write_large_fleet(drains // DRAINS_A_UNIT, drains, folder, kind)
    log, units = (str(folder / f"{name}.{kind}") for name in ("drains", "units"))
    run = run_measured(["plan", log, "--units", units, "--out", str(folder / "out"), "--as-of", AS_OF, "--quiet"])
    if run.status != 0:
        raise SystemExit(f"plan of {drains:,} drains: exit status {run.status}")
    said = f"{run.seconds:.0f} s, {run.processor_seconds:.0f} s of processors, {run.megabytes:,.0f} MB"
    return Row(f"plan, {drains:,} drains, {kind}, load {os.getloadavg()[0]:.1f}", said, "")


def bad_row(drains: int, folder: Path) -> Row:
    """`check` on a log in which every row is held back, and how many of them stand in held_back.csv."""
    write_large_fleet(drains // DRAINS_A_UNIT, drains, folder)
    log = folder / "drains.parquet"
    pl.read_parquet(log).with_columns(pl.lit("99").alias("colour_rating")).write_parquet(log)
    run = run_measured(["check", str(log), "--out", str(folder / "out"), "--as-of", AS_OF, "--quiet"])
    held = pl.scan_csv(folder / "out" / "held_back.csv").select(pl.len()).collect().item()
    said = f"{run.seconds:.0f} s, {run.megabytes:,.0f} MB, {held:,} rows in held_back.csv"
    return Row(f"check, {drains:,} rows, all of them bad", said, "")


def main(sizes: list[int]) -> None:
    """Every size as Parquet and as CSV, then a bad log of the last size."""
    print(f"Python {platform.python_version()}, {os.cpu_count()} cores, polars {version('polars')}")
    print("\n| what | measured |\n| --- | --- |")
    for drains in sizes:
        for kind in ("parquet", "csv"):
            with tempfile.TemporaryDirectory() as folder:
                row = plan_row(drains, kind, Path(folder))
                print(f"| {row.what} | {row.value} |", flush=True)
    with tempfile.TemporaryDirectory() as folder:
        row = bad_row(sizes[-1], Path(folder))
        print(f"| {row.what} | {row.value} |", flush=True)


if __name__ == "__main__":
    main([int(text) for text in sys.argv[1:]] or list(SIZES))
