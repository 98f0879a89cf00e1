"""The pins with hashes are those that the tests run with, every one has a hash, and there is no address in them."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[1]


def test_locked_pins_are_those_of_the_constraints() -> None:
    locked = (ROOT / "locked.txt").read_text()
    pins = dict(re.findall(r"^([\w.-]+)==([\w.]+)", locked, re.MULTILINE))
    known = dict(re.findall(r"^([\w.-]+)==([\w.]+)", (ROOT / "constraints.txt").read_text(), re.MULTILINE))
    ours = {_plain(name): number for name, number in known.items()}
    assert {name: number for name, number in pins.items() if ours.get(_plain(name), number) != number} == {}
    assert len(pins) > 40
    assert all("--hash=sha256:" in block for block in re.split(r"\n(?=[\w.-]+==)", locked)[1:])
    assert "://" not in locked


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()
