"""Nights killed while their mail is sent, at random instants and between send and record; counts what arrived twice.

Run by hand, two nights a kill:
PYTHONPATH=tests .venv/bin/python tests/draincurve/nightly/killed_deliveries.py [kills]
"""

from __future__ import annotations

import signal
import sys
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np
from counting_mail_server import MAIL, STAGES, counting_server
from night_child import Job, finish, make_plan, start

from draincurve.pipeline.simulation.fleet_files import write_sample


def main(kills: int) -> None:
    """Kill nights, and let the next one send what was not sent."""
    rng = np.random.default_rng(7)
    fates: Counter[tuple[str, str]] = Counter()
    with tempfile.TemporaryDirectory() as name, counting_server() as (box, port):
        settings, plan = Path(name) / "night.toml", Path(name) / "plan.pickle"
        write_sample("race_team", Path(name), seed=4, units=6, drains=30)
        settings.write_text(f'[sources]\nlog = "drains.csv"\n{MAIL.format(port=port)}')
        make_plan(settings, plan)
        for number in range(1, kills + 1):
            stage = STAGES[number % len(STAGES)]
            job = Job(settings, plan, number)
            before = Counter(box.arrived)
            process = start(job)
            box.aim = (stage, float(rng.uniform(0.0, 0.012)), process.pid or 0, signal.SIGKILL)
            process.join()
            killed = process.exitcode == -signal.SIGKILL
            box.aim = None
            line = finish(job)
            new = box.arrived - before
            said = [one["said"] for one in line["deliveries"] if one["way"] == "mail"]
            unsure = any("it is not known" in one for one in said)
            fates[stage if killed else "not killed", _fate(new, unsure=unsure)] += 1
    for (stage, fate), count in sorted(fates.items()):
        print(f"{stage:<12}{fate:<40}{count:>5}")


def _fate(new: Counter[tuple[str, str]], *, unsure: bool) -> str:
    if any(count > 1 for count in new.values()) or len(new) > 2:
        return "ARRIVED TWICE"
    arrived = "arrived once" if len(new) == 2 else "arrived nowhere" if not new else "ARRIVED AT SOME"
    return f"{arrived}, said to be unknown" if unsure else arrived


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
