"""The program as a user starts it: time to help, and the main job on two invented fleets with its peak memory."""

from __future__ import annotations

import json
import os
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from tests.benchmarks.rating_fits import Row

ROOT = Path(__file__).parents[2]
DRAINCURVE = str(Path(sys.executable).with_name("draincurve"))
HELD_BACK = 3  # exit status: done, but rows were held back
GOALS = (("race_team", "6 s or less", ""), ("track_school", "15 s or less", "600 MB or less"))


@dataclass(frozen=True)
class Run:
    """One run of the command: seconds by the clock and of the processors, peak memory [MB], exit status."""

    seconds: float
    processor_seconds: float
    megabytes: float
    status: int


def run_measured(arguments: list[str]) -> Run:
    """One run of the command, its output thrown away."""
    begin = time.perf_counter()
    process = os.posix_spawn(
        DRAINCURVE,
        [DRAINCURVE, *arguments],
        os.environ,
        file_actions=[
            (os.POSIX_SPAWN_OPEN, 1, os.devnull, os.O_WRONLY, 0),
            (os.POSIX_SPAWN_OPEN, 2, os.devnull, os.O_WRONLY, 0),
        ],
    )
    _, status, used = os.wait4(process, 0)
    seconds = time.perf_counter() - begin
    unit = 1024**2 if sys.platform == "darwin" else 1024  # bytes there, kilobytes on Linux
    busy = used.ru_utime + used.ru_stime
    return Run(seconds, busy, used.ru_maxrss / unit, os.waitstatus_to_exitcode(status))


def help_time() -> list[Row]:
    """`draincurve --help`, the best of five."""
    seconds = min(run_measured(["--help"]).seconds for _ in range(5))
    return [Row("draincurve --help", f"{seconds:.2f} s", "under 0.5 s")]


def plan_arguments(fleet: str, out: str) -> list[str]:
    """The main job on a sample fleet, as of its own day."""
    folder = ROOT / "sample_data" / fleet
    log = folder / ("log.xlsx" if (folder / "log.xlsx").exists() else "drains.csv")
    as_of = json.loads((folder / "truth.json").read_text(encoding="utf-8"))["as_of"]
    found = ["plan", str(log), "--out", out, "--quiet", "--as-of", as_of, "--settings", str(folder / "settings.toml")]
    for side in ("units", "usage", "bookings"):
        if (folder / f"{side}.csv").exists():
            found += [f"--{side}", str(folder / f"{side}.csv")]
    return found


def plans() -> list[Row]:
    """The main job on the race team and the track school, second run, whole process."""
    rows = []
    for fleet, seconds_goal, memory_goal in GOALS:
        with tempfile.TemporaryDirectory() as out:
            arguments = plan_arguments(fleet, str(Path(out) / "plan"))
            for _ in range(2):
                run = run_measured(arguments)
                if run.status not in (0, HELD_BACK):
                    raise SystemExit(f"draincurve {' '.join(arguments)}: exit status {run.status}")
        rows.append(Row(f"draincurve plan, {fleet}", f"{run.seconds:.1f} s", seconds_goal))
        rows.append(Row(f"draincurve plan, {fleet}: processor time", f"{run.processor_seconds:.1f} s", ""))
        rows.append(Row(f"draincurve plan, {fleet}: peak memory", f"{run.megabytes:.0f} MB", memory_goal))
    return rows
