"""Fixtures that run the program and write its logs in a test's own folder."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from small_logs import Outcome, run_program, write_rows

from draincurve.pipeline import processing


@pytest.fixture
def run(tmp_path: Path) -> Callable[..., Outcome]:
    """Run `draincurve COMMAND ARGS`, with `--out` in a fresh folder unless out=False."""
    runs = iter(range(100))

    def call(command: str, *args: str | Path, out: bool = True, page: bool = True, pictures: bool = True) -> Outcome:
        folder = tmp_path / f"out{next(runs)}"
        return run_program(command, *args, out=folder if out else None, page=page, pictures=pictures)

    return call


@pytest.fixture
def write(tmp_path: Path) -> Callable[..., Path]:
    """Write rows (dictionaries) as a CSV file and return its path."""
    return lambda name, rows: write_rows(tmp_path / name, rows)


@pytest.fixture
def large_at_once(monkeypatch) -> None:
    """A fleet counts as large from 200 units on, and its blocks are as many as those of a large one."""
    monkeypatch.setattr(processing, "LARGE_FLEET_UNITS", 200)
    monkeypatch.setattr(processing, "LARGE_FLEET", replace(processing.LARGE_FLEET, block_units=100))
