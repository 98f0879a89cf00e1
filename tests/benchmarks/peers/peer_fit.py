"""What a fit hands over to be compared: its time, the log likelihood that it says, and its estimates."""

from __future__ import annotations

import csv
import json
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from draincurve.schemas.array_types import Floats, Integers
from tests.benchmarks.rating_fits import simulated

MOST_TIMES = 5
ENOUGH_SECONDS = 10.0
"""Every program fits up to MOST_TIMES times, or until ENOUGH_SECONDS are spent, and its shortest fit counts."""


@dataclass(frozen=True)
class PeerFit:
    """One program's fit of P(rating <= k) = F(threshold_k - x'coefficients - unit_sd * z).

    seconds : of the fit alone, without start-up and reading; log_likelihood : as the program says it, or None;
    thresholds (K - 1,), coefficients (p,); unit_sd : 0 without unit effects; note : what else is to be known.
    """

    what: str
    seconds: float
    log_likelihood: float | None
    thresholds: Floats
    coefficients: Floats
    unit_sd: float
    note: str = ""


@dataclass(frozen=True)
class LeftOut:
    """A program that gave no fit, and why."""

    what: str
    why: str


@dataclass(frozen=True)
class RatedRows:
    """Rows that every program gets: ratings (n,) from 1, columns (n, p) about their means, unit (n,)."""

    ratings: Integers
    columns: Floats
    unit: Integers


def rated_rows(drains: int, units: int, columns: int, seed: int = 1) -> RatedRows:
    """Invented rows; log hours come first. Columns are centred, so that no program starts far off."""
    ratings, log_hours, design, unit = simulated(drains, units, columns, seed)
    both = np.column_stack((log_hours, design))
    return RatedRows(ratings, both - both.mean(axis=0), unit)


def shortest(fitted: Callable[[], object]) -> float:
    """Seconds of the shortest fit by that rule."""
    seconds: list[float] = []
    while len(seconds) < MOST_TIMES and sum(seconds) < ENOUGH_SECONDS:
        begin = time.perf_counter()
        fitted()
        seconds.append(time.perf_counter() - begin)
    return min(seconds)


def column_names(rows: RatedRows) -> list[str]:
    """log_hours, x1, x2 ..."""
    return ["log_hours", *(f"x{j}" for j in range(1, rows.columns.shape[1]))]


def write_rows(rows: RatedRows, path: Path) -> None:
    """Hand the rows over as CSV, numbers to the last bit."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["rating", "unit", *column_names(rows)])
        for rating, unit, x in zip(rows.ratings, rows.unit, rows.columns, strict=True):
            writer.writerow([int(rating), f"u{unit}", *(repr(float(value)) for value in x)])


def read_fit(path: Path, what: str) -> PeerFit:
    """A fit as a rival's script wrote it; VERSION in `what` becomes its version."""
    said: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    value = said["log_likelihood"]
    return PeerFit(
        what.replace("VERSION", said["version"]),
        float(said["seconds"]),
        None if value is None else float(value),
        np.array(said["thresholds"], dtype=float),
        np.array(said["coefficients"], dtype=float),
        float(said["unit_sd"]),
        str(said["note"]),
    )
