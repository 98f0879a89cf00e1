"""A clean fleet as somebody would have typed it, with the list of rows that a reader should notice."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any, Protocol

import numpy as np
import polars as pl

from draincurve.pipeline.simulation.bad_rows import TypedRow, bad_rows, misspell_a_rider, top_up_rows
from draincurve.pipeline.simulation.typing_habits import (
    TypingHabits,
    number_text,
    typed_answer,
    typed_date,
    typed_hours,
    typed_name,
    typed_rating,
    typed_settling,
    typed_volume,
)
from draincurve.schemas.channels import CHANNELS


class TypedCell(Protocol):
    """The text of a cell, typed by the habits."""

    def __call__(self, value: Any, habits: TypingHabits, /, *, rng: np.random.Generator) -> str:
        """The text of a value."""


TYPED_AS: dict[str, TypedCell] = {
    "unit_id": typed_name,
    "drained_on": typed_date,
    "oil_hours": typed_hours,
    "oil_grade": typed_name,
    "filled_ml": typed_volume,
    "drained_ml": typed_volume,
    **dict.fromkeys((channel.rating for channel in CHANNELS), typed_rating),
    "spring_type": typed_name,
    "rider": typed_name,
}
FIRST_LINE = 2
"""Line of the first row below the header."""


@dataclass(frozen=True, slots=True)
class TypedLog:
    """Tables as typed, all text, and what a reader should make of them.

    expected : one entry for each row to hold back, note or ask about: table, line, verdict ("held back",
    "noted", "asked", "kept, no drain"), column, value, why
    origin : for each typed drain, its row in the clean table, or None for a row that was added
    """

    tables: dict[str, pl.DataFrame]
    expected: list[dict[str, Any]]
    origin: list[int | None]


def type_by_hand(
    tables: dict[str, pl.DataFrame],
    habits: TypingHabits,
    *,
    rng: np.random.Generator,
    as_of: date,
    standard_settle_hours: float = 0.167,
) -> TypedLog:
    """A fleet's clean log, typed by the habits; the other tables stay clean, as an office keeps them."""
    clean = tables["drains"]
    records = clean.to_dicts()
    resets = _reset_one_meter(records, habits, rng=rng)
    blanks = _rows_without_hours(records, resets, habits=habits, rng=rng)
    rows = [_typed_row(record, habits, rng=rng, standard=standard_settle_hours) for record in records]
    typed = []
    for index, (record, cells) in enumerate(zip(records, rows, strict=True)):
        if index in blanks:
            cells["oil_hours"] = ""
        typed.append(TypedRow(record["drained_on"], cells, index, resets.get(index)))
    if habits.bad_rows:
        typed = misspell_a_rider(typed, blanks)
        typed += bad_rows(records, typed, spared=blanks | set(resets), habits=habits, rng=rng, as_of=as_of)
    typed += top_up_rows(records, rows, habits=habits, rng=rng)
    typed.sort(key=lambda row: row.filed_on)
    expected = [
        {"table": "drains", "line": line, **row.expected}
        for line, row in enumerate(typed, start=FIRST_LINE)
        if row.expected is not None
    ]
    drains = pl.DataFrame([row.cells for row in typed], schema=dict.fromkeys(typed[0].cells, pl.String))
    others = {name: plain_text(table) for name, table in tables.items() if name != "drains"}
    return TypedLog({"drains": drains, **others}, expected, [row.origin for row in typed])


def plain_text(table: pl.DataFrame) -> pl.DataFrame:
    """A typed table as text: ISO dates, yes and no, numbers without trailing zeros, blanks for null."""
    plain = TypingHabits()
    columns = []
    for column in table.iter_columns():
        if column.dtype == pl.Boolean:
            cells = ["" if value is None else "yes" if value else "no" for value in column]
        elif column.dtype.is_float():
            cells = ["" if value is None else number_text(value, plain) for value in column]
        else:
            cells = ["" if value is None else str(value) for value in column]
        columns.append(pl.Series(column.name, cells, dtype=pl.String))
    return pl.DataFrame(columns)


def _typed_row(
    record: dict[str, Any], habits: TypingHabits, *, rng: np.random.Generator, standard: float
) -> dict[str, str]:
    """The cells of one drain, in the clean table's order, with room for new parts and a note."""
    cells = {
        column: _typed_cell(column, value, habits=habits, rng=rng, standard=standard)
        for column, value in record.items()
    }
    cells["new_parts"] = "spring" if record["spring_hours"] <= record["oil_hours"] else ""
    cells["note"] = "wet below the seal" if record["leak"] else ""
    return cells


def _typed_cell(column: str, value: Any, *, habits: TypingHabits, rng: np.random.Generator, standard: float) -> str:
    """One cell, typed in the manner of its column or, where it has none, of its kind."""
    if column == "settle_hours":
        return typed_settling(value, standard, habits=habits, rng=rng)
    if column == "rated_by":
        return "" if rng.random() < habits.blank_rater_share else str(value)
    if column in TYPED_AS:
        return TYPED_AS[column](value, habits, rng=rng)
    if isinstance(value, bool):
        return typed_answer(value, habits, rng=rng)
    return number_text(value, habits) if isinstance(value, float) else str(value)


def _reset_one_meter(
    records: list[dict[str, Any]], habits: TypingHabits, *, rng: np.random.Generator
) -> dict[int, dict[str, Any]]:
    """Reset one unit's meter to 0 in the middle of its log; returns the first row after it, with what to expect."""
    if not habits.meter_reset:
        return {}
    by_unit: dict[str, list[int]] = {}
    for index, record in enumerate(records):
        by_unit.setdefault(record["unit_id"], []).append(index)
    long_enough = [rows for rows in by_unit.values() if len(rows) >= 6]
    if not long_enough:
        return {}
    rows = long_enough[int(rng.integers(len(long_enough)))]
    middle = len(rows) // 2
    before = records[rows[middle - 1]]["meter_hours"]
    for index in rows[middle:]:
        records[index]["meter_hours"] = round(records[index]["meter_hours"] - before, 1)
    value = number_text(records[rows[middle]]["meter_hours"], habits)
    why = "the hour meter started again from 0; the hours on the oil are as logged"
    return {rows[middle]: {"verdict": "noted", "column": "meter_hours", "value": value, "why": why}}


def _rows_without_hours(
    records: list[dict[str, Any]],
    resets: dict[int, dict[str, Any]],
    *,
    habits: TypingHabits,
    rng: np.random.Generator,
) -> set[int]:
    """Rows whose hours must come from the meter: never a unit's first, nor the one after a reset."""
    seen: set[str] = set()
    blanks = set()
    for index, record in enumerate(records):
        first = record["unit_id"] not in seen
        seen.add(record["unit_id"])
        if rng.random() < habits.blank_hours_share and not first and index not in resets:
            blanks.add(index)
    return blanks
