"""A night in a child process of its own, with a fault put in its way: killed, or out of disk, at a chosen step.

The plan is made once and handed over, and files are short. Lock, swap, ledger and order are the program's.
"""

from __future__ import annotations

import errno
import json
import multiprocessing
import os
import pickle
import signal
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING

from forked_children import CONTEXT

if TYPE_CHECKING:
    from draincurve.pipeline.plan_result import PlanResult

AS_OF = date(2026, 6, 20)
CHANGING = {
    "os.rename", "os.symlink", "os.mkdir", "os.remove", "os.rmdir", "os.chmod", "os.truncate", "fcntl.flock",
    "sqlite3.connect",
}  # fmt: skip
"""Steps that change what lies on the disk, as the interpreter's audit events name them; files opened to write too."""


@dataclass(frozen=True)
class Fault:
    """What happens at the nth changing step; of "count" nothing, but the steps are told."""

    kind: str  # "kill", "full", "count"
    at: int = 0


@dataclass(frozen=True)
class Job:
    """One night: its settings file, the plan to hand over (None: make it), and a number that makes it another one."""

    settings: Path
    plan: Path | None
    number: int = 0
    fault: Fault | None = None


def start(job: Job) -> multiprocessing.process.BaseProcess:
    """The night under way in a child."""
    process = CONTEXT.Process(target=_run, args=(job,))
    process.start()
    return process


def finish(job: Job) -> dict:
    """The night to its end; what it said, with `exit_code` of the process (negative: killed) beside it."""
    said(job.settings).unlink(missing_ok=True)
    process = start(job)
    process.join()
    line = json.loads(said(job.settings).read_text()) if said(job.settings).exists() else {}
    return line | {"exit_code": process.exitcode}


def said(settings: Path) -> Path:
    """Where a child leaves its line."""
    return settings.with_name("said.json")


def make_plan(settings: Path, target: Path) -> None:
    """Makes the plan of a night, once, and leaves it in a file."""
    process = CONTEXT.Process(target=_make_plan, args=(settings, target))
    process.start()
    process.join()
    assert process.exitcode == 0


def _make_plan(settings: Path, target: Path) -> None:
    from draincurve.nightly.night_inputs import night_inputs
    from draincurve.pipeline.run import plan
    from draincurve.schemas.nightly_settings import read_nightly

    target.write_bytes(pickle.dumps(plan(night_inputs(read_nightly(settings), AS_OF))))


def _run(job: Job) -> None:
    from draincurve.nightly import night
    from draincurve.nightly.night_clock import present_moment
    from draincurve.nightly.night_outcome import outcome_json
    from draincurve.schemas.nightly_settings import read_nightly

    file = read_nightly(job.settings)
    policy = replace(file.settings.policy, seed=job.number)
    file = replace(file, settings=replace(file.settings, policy=policy))
    if job.plan is not None:
        made = pickle.loads(job.plan.read_bytes())
        night.plan = lambda inputs, _: replace(made, settings=inputs.settings)
        night.write_files = _short_report
    steps = _Steps(job.fault, str(file.output_folder))
    order = night.NightRun(file, AS_OF, False, present_moment(), time.perf_counter(), steps.progress)
    if job.fault is not None:
        sys.addaudithook(steps.event)
    outcome = night.run_night(order)
    steps.asleep = True
    line = json.loads(outcome_json(outcome)) | {"steps": steps.names}
    said(job.settings).write_text(json.dumps(line))


def _short_report(result: PlanResult, folder: Path, *, changes: object) -> SimpleNamespace:
    for name in ("next_service.csv", "fleet_intervals.csv", "spring_effects.csv", "held_back.csv"):
        (folder / name).write_text("a,b\n" * 2000)
    (folder / "run.json").write_text(
        json.dumps({"as_of": result.as_of.isoformat(), "settings": {"seed": result.settings.seed}}) + "\n"
    )
    (folder / "report.html").write_text(f"<html>{'x' * 200_000}</html>")
    return SimpleNamespace(content=None)


class _Steps:
    """Counts changing steps, and lets the fault happen at one of them."""

    def __init__(self, fault: Fault | None, folder: str) -> None:
        self.fault, self.folder, self.asleep = fault, folder, False
        self.names: list[str] = []

    def progress(self, stage: str) -> None:
        self._step(stage, lambda: None)

    def event(self, name: str, args: tuple) -> None:
        if self.asleep or not self._changes(name, args):
            return
        self._step(name, self._full)

    def _changes(self, name: str, args: tuple) -> bool:
        if name == "open":
            path, _, flags = args
            writes = isinstance(flags, int) and flags & (os.O_WRONLY | os.O_RDWR)
            return bool(writes) and os.fsdecode(path if isinstance(path, str | bytes) else str(path)).startswith(
                self.folder
            )
        return name in CHANGING

    def _step(self, name: str, full: Callable[[], None]) -> None:
        self.names.append(name)
        if self.fault is None or self.fault.kind == "count" or len(self.names) != self.fault.at:
            return
        if self.fault.kind == "kill":
            os.kill(os.getpid(), signal.SIGKILL)
        full()

    def _full(self) -> None:
        self.asleep = True  # what tidies up after the fault finds room again
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), self.folder)
