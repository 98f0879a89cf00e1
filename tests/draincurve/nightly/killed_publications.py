"""Nights killed at random instants while they publish, beside a reader that looks all the time; counts what it saw.

Run by hand, two nights a kill:
PYTHONPATH=tests .venv/bin/python tests/draincurve/nightly/killed_publications.py [kills]
"""

from __future__ import annotations

import os
import signal
import sys
import tempfile
import threading
from collections import Counter
from pathlib import Path

import numpy as np
import psycopg
from night_child import Job, finish, make_plan, start
from running_postgresql import PASSWORD, running_server

from draincurve.pipeline.simulation.fleet_files import write_sample

LOOK = """
    SELECT (SELECT count(*) FROM draincurve.next_service),
        (SELECT count(DISTINCT run_id) FROM draincurve.next_service),
        (SELECT count(*) FROM draincurve.next_service_history),
        (SELECT count(DISTINCT run_id) FROM draincurve.next_service_history)
"""


def main(kills: int) -> None:
    """Kill nights, and let the next one publish what was not published."""
    rng = np.random.default_rng(17)
    fates: Counter[str] = Counter()
    looks: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as name, running_server() as server:
        os.environ["PGPASSWORD"] = PASSWORD
        settings, plan = Path(name) / "night.toml", Path(name) / "plan.pickle"
        write_sample("race_team", Path(name), seed=4, units=6, drains=30)
        publish = f'[publish]\naddress = "{server.address()}"\n'
        settings.write_text(f'[sources]\nlog = "drains.csv"\n[schedule]\nkeep_reports = 5\n{publish}')
        make_plan(settings, plan)
        assert finish(Job(settings, plan))["deliveries"][0]["delivered"]
        with psycopg.connect(server.address(), autocommit=True) as reader:
            [rows, *_] = reader.execute(LOOK).fetchone() or (0,)
            done = threading.Event()
            thread = threading.Thread(target=_look, args=(server.address(), rows, looks, done))
            thread.start()
            for number in range(1, kills + 1):
                job = Job(settings, plan, number)
                process = start(job)
                _wait_for_publishing(reader, process)
                process.join(float(rng.uniform(0.0, 0.6)))
                if process.is_alive():
                    process.kill()
                process.join()
                fates["killed" if process.exitcode == -signal.SIGKILL else "ended by itself"] += 1
                there = reader.execute(LOOK).fetchone() or (0, 0, 0, 0)
                fates["its night was there" if there[3] == number + 1 else "its night was not there"] += 1
                assert finish(job)["status"] in ("done", "held back", "unchanged")
                assert reader.execute(LOOK).fetchone() == (rows, 1, rows * (number + 1), number + 1)
            done.set()
            thread.join()
    print(f"{kills} nights: {dict(fates)}; afterwards each night was there once; a reader's looks: {dict(looks)}")


def _wait_for_publishing(reader: psycopg.Connection, process: object) -> None:
    """Until the night has logged in, or is over."""
    query = "SELECT count(*) FROM pg_stat_activity WHERE application_name = 'draincurve'"
    while process.is_alive() and not (reader.execute(query).fetchone() or (0,))[0]:  # type: ignore[attr-defined]
        pass


def _look(address: str, rows: int, looks: Counter[str], done: threading.Event) -> None:
    with psycopg.connect(address, autocommit=True) as connection:
        while not done.wait(0.002):
            now, nights, kept, all_nights = connection.execute(LOOK).fetchone() or (0, 0, 0, 0)
            looks["whole" if (now, nights, kept) == (rows, 1, rows * all_nights) else "HALF"] += 1


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
