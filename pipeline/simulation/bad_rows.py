"""Rows with the faults of a handwritten log: impossible cells, copies, contradictions, a misspelt rider, top-ups."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from draincurve.pipeline.simulation.typing_habits import TypingHabits, number_text, typed_date
from draincurve.schemas.channels import CHANNELS, RATING_LEVELS

BAD_CELLS: tuple[tuple[str, str, str], ...] = (
    ("colour_rating", "6", "the scale ends at 5"),
    ("debris_rating", "0", "0 is no rating: clean is 1"),
    ("filled_ml", "-520", "a volume below zero"),
    ("colour_rating", "grey", "a word that the settings do not map to a rating"),
    ("filled_ml", "130 mm", "an air gap in mm is not a volume"),
    ("rider", "", "no rider"),
    ("oil_hours", "0", "no hours on the oil"),
)
"""Column, what was typed, and why the row should be held back; for the columns that a log has."""


@dataclass(frozen=True, slots=True)
class TypedRow:
    """One typed drain: the date it is filed under, its cells, its row in the clean table, what to expect of it."""

    filed_on: date
    cells: dict[str, str]
    origin: int | None
    expected: dict[str, Any] | None = None


def bad_rows(
    records: list[dict[str, Any]],
    typed: list[TypedRow],
    *,
    spared: set[int],
    habits: TypingHabits,
    rng: np.random.Generator,
    as_of: date,
) -> list[TypedRow]:
    """Added rows that should be held back; the one drain that they contradict is marked in `typed`.

    A log with too few rows that may be altered gets none. Impossible rows are dated a day after a real drain, with
    other hours, so that they are not taken for its copy.
    spared : rows not to be altered, nor the rows before them, because hours are computed from both
    """
    spared = spared | {index for index, row in enumerate(typed) if row.expected is not None}
    free = [index for index in range(len(records)) if _may_be_altered(index, records, spared=spared)]
    bad_cells = [cell for cell in BAD_CELLS if cell[0] in records[0]]
    if len(free) < len(bad_cells) + 3:
        return []
    picked = [int(index) for index in rng.choice(free, size=len(bad_cells) + 3, replace=False)]
    added = []
    for index, (column, value, why) in zip(picked, bad_cells, strict=False):
        day = records[index]["drained_on"] + timedelta(days=1)
        cells = _another_fill(records[index], typed[index].cells, day=typed_date(day, habits, rng=rng), habits=habits)
        added.append(TypedRow(day, cells | {column: value}, None, _held_back(column, value, why=why)))

    future, copied, contradicted = picked[len(bad_cells) :]
    later = typed_date(as_of.replace(year=as_of.year + 1), habits, rng=rng)
    cells = _another_fill(records[future], typed[future].cells, day=later, habits=habits)
    filed_on = records[future]["drained_on"]
    added.append(TypedRow(filed_on, cells, None, _held_back("drained_on", later, why="a date in the future")))

    day = records[copied]["drained_on"]
    unit = typed[copied].cells["unit_id"]
    added.append(TypedRow(day, dict(typed[copied].cells), None, _held_back("unit_id", unit, why="a copy of a row")))

    original = typed[contradicted]
    rating = [channel.rating for channel in CHANNELS if channel.rating in records[0]][-1]
    other = str(records[contradicted][rating] % RATING_LEVELS + 1)
    held = _held_back(
        "unit_id", original.cells["unit_id"], why="two rows for one drain that differ: both are held back"
    )
    cells = original.cells | {rating: other}
    added.append(TypedRow(original.filed_on, cells, None, held))
    typed[contradicted] = replace(original, expected=held)
    return added


def misspell_a_rider(typed: list[TypedRow], spared: set[int]) -> list[TypedRow]:
    """Misspell one rider by a letter in the second half of the log: to be asked about, never merged."""
    for index in range(len(typed) // 2, len(typed)):
        row = typed[index]
        rider = row.cells["rider"]
        if index not in spared and row.expected is None and len(rider.strip()) >= 5:
            misspelt = rider[:-2] + rider[-1] + rider[-2]
            why = "a rider's name that nearly matches another: asked about, never merged"
            expected = {"verdict": "asked", "column": "rider", "value": misspelt, "why": why}
            changed = replace(row, cells=row.cells | {"rider": misspelt}, expected=expected)
            return [*typed[:index], changed, *typed[index + 1 :]]
    return typed


def top_up_rows(
    records: list[dict[str, Any]],
    rows: list[dict[str, str]],
    *,
    habits: TypingHabits,
    rng: np.random.Generator,
) -> list[TypedRow]:
    """A little oil added between drains: no rating, no oil drained, and the hours on the oil continue."""
    added = []
    for index in rng.choice(len(records), size=min(habits.top_ups, len(records)), replace=False):
        day = records[index]["drained_on"] - timedelta(days=3)
        hours = number_text(round(records[index]["oil_hours"] * 0.6, 1), habits)
        changed = {
            "drained_on": typed_date(day, habits, rng=rng),
            "oil_hours": hours,
            "meter_hours": "",
            "spring_hours": "",
            "filled_ml": "20 ml",
            "drained_ml": "",
            "settle_hours": "",
            **{channel.rating: "" for channel in CHANNELS if channel.rating in rows[index]},
            "service_kind": "top-up",
            "milky": "no",
            "burnt": "no",
            "leak": "no",
            "new_parts": "",
            "note": "",
        }
        expected = {
            "verdict": "kept, no drain",
            "column": "service_kind",
            "value": "top-up",
            "why": "a top-up is kept and does not reset the oil's clock",
        }
        added.append(TypedRow(day, rows[index] | changed, None, expected))
    return added


def _may_be_altered(index: int, records: list[dict[str, Any]], *, spared: set[int]) -> bool:
    """Whether a row has no sign, and neither its hours nor those of the unit's next row come from the meter."""
    record = records[index]
    if index in spared or record["milky"] or record["leak"] or record["burnt"]:
        return False
    following = next(
        (later for later in range(index + 1, len(records)) if records[later]["unit_id"] == record["unit_id"]), None
    )
    return following is not None and following not in spared


def _another_fill(record: dict[str, Any], cells: dict[str, str], *, day: str, habits: TypingHabits) -> dict[str, str]:
    """The cells of a drain with another date and other hours, and no meter reading."""
    hours = number_text(round(record["oil_hours"] + 0.4, 1), habits)
    return cells | {"drained_on": day, "oil_hours": hours, "meter_hours": ""}


def _held_back(column: str, value: str, *, why: str) -> dict[str, Any]:
    """What to expect of a row that should be held back."""
    return {"verdict": "held back", "column": column, "value": value, "why": why}
