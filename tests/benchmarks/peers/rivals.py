"""Runs a rival's script on the rows, in a process of its own and within a time limit."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.benchmarks.peers.own_environment import ROOT, NotInstalledError, python_with
from tests.benchmarks.peers.peer_fit import (
    ENOUGH_SECONDS,
    MOST_TIMES,
    LeftOut,
    PeerFit,
    RatedRows,
    read_fit,
    write_rows,
)

HERE = Path(__file__).parent
R_INSTALL = "apt-get install --no-install-recommends r-base-core r-cran-ordinal"


@dataclass(frozen=True)
class Rival:
    """A program to run: its name in the table (VERSION stands for its version), how to start it, more arguments.

    interpreter : gives the program to start; raises NotInstalledError where there is none. samples : whether it draws
    from a posterior, and its estimates are means.
    """

    what: str
    interpreter: Callable[[], Path]
    script: str
    more: tuple[str, ...] = ()
    samples: bool = False

    @property
    def name(self) -> str:
        """Its name where the version is not known."""
        return self.what.replace(" VERSION", "")


def rscript() -> Path:
    """Rscript of an R that has ordinal; nothing is installed for it."""
    found = shutil.which("Rscript")
    has_ordinal = ["-e", "quit(status = !requireNamespace('ordinal', quietly = TRUE))"]
    if found is None or subprocess.run([found, *has_ordinal], capture_output=True, check=False).returncode:
        raise NotInstalledError(f"R's ordinal is not installed ({R_INSTALL})")
    return Path(found)


CLMM_LAPLACE = Rival("R ordinal VERSION clmm, Laplace", rscript, "ordinal_fit.R", ("1",))
CLMM_NODES = Rival("R ordinal VERSION clmm, 9 nodes", rscript, "ordinal_fit.R", ("9",))
INTERLACE = Rival("interlace-lme VERSION clmm, Laplace", lambda: python_with("interlace-lme"), "interlace_fit.py")
BAMBI = Rival("bambi VERSION, cumulative family", lambda: python_with("bambi"), "bambi_fit.py", samples=True)


def fit_of(rival: Rival, rows: RatedRows, limit: float) -> PeerFit | LeftOut:
    """The rival's fit, or why there is none; `limit` [s] is for the whole process."""
    try:
        interpreter = rival.interpreter()
    except NotInstalledError as error:
        return LeftOut(rival.name, f"left out: {error}")
    with tempfile.TemporaryDirectory() as folder:
        given, answer = Path(folder) / "rows.csv", Path(folder) / "answer.json"
        write_rows(rows, given)
        told = [str(given), str(answer), str(MOST_TIMES), str(ENOUGH_SECONDS), *rival.more]
        failed = _failure([str(interpreter), str(HERE / rival.script), *told], limit)
        if failed:
            return LeftOut(rival.name, failed)
        try:
            return read_fit(answer, rival.what)
        except (OSError, ValueError, KeyError, TypeError) as error:
            return LeftOut(rival.name, f"its answer cannot be read ({type(error).__name__})")


def _failure(command: list[str], limit: float) -> str:
    """Run a command to its end or its limit; what went wrong, or nothing. Its own workers end with it."""
    with subprocess.Popen(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, start_new_session=True
    ) as process:
        try:
            _, errors = process.communicate(timeout=limit)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.communicate()
            return f"stopped after {limit:g} s without an answer"
    if not process.returncode:
        return ""
    said = [line for line in errors.splitlines() if line.strip()] or [f"exit status {process.returncode}"]
    return f"failed: {said[-1]}".replace(f"{ROOT}{os.sep}", "").replace("|", "/")
