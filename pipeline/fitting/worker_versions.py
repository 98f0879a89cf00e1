"""What a worker computes with, and how that differs from what is here: other versions may give other last digits."""

from __future__ import annotations

import platform
from collections.abc import Mapping
from importlib.metadata import PackageNotFoundError, version

COMPARED = ("draincurve", "numpy", "scipy", "numba", "polars")


def versions_here() -> dict[str, str]:
    """Versions of this process; what is not installed has an empty one."""
    return {"python": platform.python_version()} | {name: _version(name) for name in COMPARED}


def differences(here: Mapping[str, str], there: Mapping[str, str]) -> str:
    """Words for what differs, such as "numpy 2.4.6 here, 2.4.5 there"; empty where nothing does."""
    return "; ".join(
        f"{name} {here[name]} here, {there.get(name) or 'none'} there"
        for name in here
        if there.get(name) != here[name]
    )


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return ""
