"""Nights of the program as it is, plan and pages and all, killed at random instants; prints what came of it.

Run by hand, about ten minutes:
PYTHONPATH=tests .venv/bin/python tests/draincurve/nightly/killed_real_nights.py [kills]
"""

from __future__ import annotations

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


def main(kills: int) -> None:
    """Kills nights at random instants, and runs each to its end afterwards."""
    with tempfile.TemporaryDirectory() as folder:
        settings = Path(folder) / "night.toml"
        write_sample("race_team", Path(folder), seed=4, units=UNITS, drains=DRAINS)
        settings.write_text('[sources]\nlog = "drains.csv"\n[policy]\nposterior_draws = 200\n')
        reports = Path(folder) / "reports"
        begin = time.perf_counter()
        assert_night_done(reports, finish(Job(settings, None)), 0, UNITS)
        usual, killed = time.perf_counter() - begin, 0
        rng = np.random.default_rng(11)
        for number in range(1, kills + 1):
            job = Job(settings, None, number)
            process = start(job)
            process.join(float(rng.uniform(0.0, usual)))
            if process.is_alive():
                process.kill()
                process.join()
                killed += process.exitcode == -signal.SIGKILL
            assert_true_at_any_instant(reports, had_report=True)
            assert_night_done(reports, finish(job), number, UNITS)
        print(f"{kills} nights of about {usual:.1f} s: {killed} killed, each next one made a whole report")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 50)
