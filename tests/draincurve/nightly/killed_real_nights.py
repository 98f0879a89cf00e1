"""Nights of the program as it is, plan and pages and all, killed at random instants; prints what came of it.

Run by hand; a quarter of a minute for each killed night, an hour for 200:
PYTHONPATH=tests .venv/bin/python tests/draincurve/nightly/killed_real_nights.py [kills [seed]]
"""

from __future__ import annotations

import itertools
import math
import signal
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from night_child import Job, finish, start
from standing_night import assert_night_done, assert_true_at_any_instant

from draincurve.pipeline.simulation.fleet_files import write_sample

UNITS, DRAINS = 6, 30


def main(kills: int, seed: int) -> None:
    """Kills so many nights at random instants, each within the quickest one so far, and runs another to its end."""
    with tempfile.TemporaryDirectory() as folder:
        settings = Path(folder) / "night.toml"
        write_sample("race_team", Path(folder), seed=4, units=UNITS, drains=DRAINS)
        settings.write_text('[sources]\nlog = "drains.csv"\n[policy]\nposterior_draws = 200\n')
        reports = Path(folder) / "reports"
        assert_night_done(reports, finish(Job(settings, None)), 0, UNITS)
        quickest, killed = math.inf, 0
        rng = np.random.default_rng(seed)
        for number in itertools.count(1):
            job = Job(settings, None, number)
            if math.isfinite(quickest):
                process = start(job)
                process.join(float(rng.uniform(0.0, quickest)))
                if process.is_alive():
                    process.kill()
                    process.join()
                    killed += process.exitcode == -signal.SIGKILL
                assert_true_at_any_instant(reports, had_report=True)
            begin = time.perf_counter()
            assert_night_done(reports, finish(job), number, UNITS)
            quickest = min(quickest, time.perf_counter() - begin)
            print(f"{killed} of {number} nights killed, each next one made a whole report", flush=True)
            if killed >= kills:
                break


if __name__ == "__main__":
    chosen = [int(word) for word in sys.argv[1:]]
    main(*(chosen + [50, 11][len(chosen) :]))
