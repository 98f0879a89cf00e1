"""The machine and the versions that a table of seconds belongs to."""

from __future__ import annotations

import os
import platform
import subprocess
from importlib.metadata import version
from pathlib import Path

from tests.benchmarks.peers.own_environment import NotInstalledError, pinned_version
from tests.benchmarks.peers.rivals import rscript

LIBRARIES = ("numpy", "numba", "scipy", "statsmodels", "pandas", "polars", "pandera", "scikit-learn")
OWN_ENVIRONMENTS = ("interlace-lme", "bambi")
PROCESSORS = Path("/proc/cpuinfo")


def machine() -> str:
    """Processor, cores, memory and the versions of all that is measured, in one line."""
    libraries = [f"{name} {version(name)}" for name in LIBRARIES]
    libraries += [f"{name} {pinned_version(name)}" for name in OWN_ENVIRONMENTS]
    return f"{processor()}, {os.cpu_count()} cores, {platform.system()}; {r_versions()}, {', '.join(libraries)}"


def processor() -> str:
    """The processor's name, as the system tells it."""
    if PROCESSORS.exists():
        for line in PROCESSORS.read_text(encoding="utf-8").splitlines():
            if line.startswith("model name"):
                return line.partition(":")[2].strip()
    return platform.processor() or platform.machine()


def r_versions() -> str:
    """R and its ordinal, or that they are not there."""
    ask = 'cat(sprintf("R %s, ordinal %s", getRversion(), packageVersion("ordinal")))'
    try:
        return subprocess.run([str(rscript()), "-e", ask], capture_output=True, text=True, check=True).stdout
    except NotInstalledError as error:
        return str(error)
