"""A large log with rows planted in it: some that cannot be right, some that are right but typed another way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import polars as pl

from draincurve.pipeline.simulation.bad_rows import BAD_CELLS
from tests.benchmarks.large_fleet import write_large_fleet

AS_OF = date(2026, 6, 20)
EACH = 100
SEED = 20260620
FUTURE = "2027-06-20"


@dataclass(frozen=True)
class Planted:
    """Rows of one kind: what was done, their lines in the file, and whether they ought to be kept."""

    what: str
    lines: tuple[int, ...]
    is_right: bool


@dataclass(frozen=True)
class PlantedLog:
    """The file, its rows, and what was planted in them."""

    path: Path
    rows: int
    planted: tuple[Planted, ...]


Change = tuple[str, Callable[[str], str], str]

WRONG: tuple[Change, ...] = (
    *((column, lambda _, value=value: value, why) for column, value, why in BAD_CELLS),
    ("drained_on", lambda _: FUTURE, "a date in the future"),
)
"""Column, what becomes of its cell, and why the row cannot be right."""

OTHERWISE: tuple[Change, ...] = (
    ("oil_hours", lambda hours: f"{round(60 * float(hours))} min", "hours typed in minutes"),
    ("filled_ml", lambda ml: f"{float(ml) / 1000:.3f} l", "a volume typed in litres"),
    ("drained_on", lambda day: date.fromisoformat(day).strftime("%d %b %Y"), "a date with the month's name"),
    ("debris_rating", lambda level: f"{level}-{int(level) + 1}" if int(level) < 5 else "4-5", "a range for a rating"),
)
"""Column, how else its cell may be typed, and what that is."""


def planted_log(units: int, drains: int, folder: Path) -> PlantedLog:
    """Write a fleet's log with EACH rows of every kind planted in it; no row gets two."""
    write_large_fleet(units, drains, folder, "csv")
    path = folder / "drains.csv"
    log = pl.read_csv(path, infer_schema=False)
    rng = np.random.default_rng(SEED)
    kinds = [(change, False) for change in WRONG] + [(change, True) for change in OTHERWISE]
    picked = rng.choice(log.height, size=(len(kinds) + 2, EACH), replace=False)
    planted = []
    for ((column, change, what), is_right), places in zip(kinds, picked, strict=False):
        texts = [change(log[column][int(place)]) for place in places]
        log = log.with_columns(log[column].scatter(places, texts))
        planted.append(Planted(f"{what} ({column})", tuple(int(place) + 2 for place in places), is_right))
    copies, contradicted = log[picked[-2]], log[picked[-1]]
    other = (contradicted["debris_rating"].cast(pl.Int64) % 5 + 1).cast(pl.String)
    grown = pl.concat([log, copies, contradicted.with_columns(other.alias("debris_rating"))])
    first = log.height + 2
    both = (*(int(place) + 2 for place in picked[-1]), *range(first + EACH, first + 2 * EACH))
    planted.append(Planted("copies of a row", tuple(range(first, first + EACH)), False))
    planted.append(Planted("two rows for one drain that differ: both", both, False))
    grown.write_csv(path)
    return PlantedLog(path, grown.height, tuple(planted))
