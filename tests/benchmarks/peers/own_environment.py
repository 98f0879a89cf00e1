"""An environment of its own for a rival whose pins do not go with the project's."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[3]
PINS = Path(__file__).with_name("pins")
SECONDS_TO_INSTALL = 900.0


class NotInstalledError(Exception):
    """The rival cannot be had here; the message says why in a few words."""


def python_with(package: str) -> Path:
    """The interpreter of `.venv-bench-PACKAGE`, made and filled by pins/PACKAGE.txt where it is missing or old.

    Raises NotInstalledError with the installer's last word.
    """
    pins = PINS / f"{package}.txt"
    folder = ROOT / f".venv-bench-{package}"
    python = folder / "bin" / "python"
    digest = hashlib.sha256(pins.read_bytes()).hexdigest()
    stamp = folder / "installed"
    if stamp.exists() and stamp.read_text(encoding="utf-8") == digest:
        return python
    _run([sys.executable, "-m", "venv", "--clear", str(folder)])
    quiet = ["--quiet", "--disable-pip-version-check"]
    _run([str(python), "-m", "pip", "install", *quiet, "--constraint", str(pins), package])
    stamp.write_text(digest, encoding="utf-8")
    return python


def pinned_version(package: str) -> str:
    """The version that the package's pins ask for."""
    lines = (PINS / f"{package}.txt").read_text(encoding="utf-8").splitlines()
    return next(line.partition("==")[2] for line in lines if line.startswith(f"{package}=="))


def _run(command: list[str]) -> None:
    """One step of the installation."""
    try:
        subprocess.run(command, capture_output=True, text=True, check=True, timeout=SECONDS_TO_INSTALL)
    except subprocess.TimeoutExpired as error:
        raise NotInstalledError(f"not installed within {SECONDS_TO_INSTALL:.0f} s") from error
    except subprocess.CalledProcessError as error:
        said = [line for line in error.stderr.splitlines() if line.strip()]
        raise NotInstalledError(f"could not be installed: {said[-1] if said else 'no reason given'}") from error
