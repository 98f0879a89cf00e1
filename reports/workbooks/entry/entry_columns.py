"""The columns of the entry sheets: headings that the reader understands, and a short explanation of each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from draincurve.schemas.channels import CHANNELS
from draincurve.schemas.columns import TABLES, Column

Cell = Literal["date", "number", "text"]

_MINUTES = 60
_ONE_OF = (("oil_hours", "meter_hours"), tuple(channel.rating for channel in CHANNELS))
"""Columns of drains of which one must be filled."""
_SMALLEST = 0.01
"""Least value of a column that must be over nought, in its unit: less than what any bench can read."""


@dataclass(frozen=True, slots=True)
class EntryColumn:
    """One column of an entry sheet.

    heading : the contract's name with its unit, as `check` reads it. low, high : of what is typed, in the heading's
    unit; None where there is no such limit. beside : the other columns of those of which one must be filled.
    """

    table: str
    name: str
    heading: str
    cell: Cell
    explanation: str
    required: bool
    beside: tuple[str, ...]
    low: float | None
    high: float | None


def entry_columns(table: str) -> tuple[EntryColumn, ...]:
    """The columns of one table, in the glossary's order."""
    return tuple(_entry_column(table, column) for column in TABLES[table])


def _entry_column(table: str, column: Column) -> EntryColumn:
    factor = _MINUTES if column.kind == "standing time" else 1
    low = None if column.low is None else column.low * factor
    if low is not None and not column.low_allowed:
        low = _SMALLEST
    high = column.high if column.high is not None else column.asked_high
    groups = _ONE_OF if table == "drains" else ()
    beside = tuple(name for group in groups if column.name in group for name in group if name != column.name)
    return EntryColumn(
        table,
        column.name,
        heading(column),
        _cell(column),
        _explanation(column, beside),
        column.required,
        beside,
        low,
        None if high is None else high * factor,
    )


def heading(column: Column) -> str:
    """The contract's name with the unit of what is typed below it: oil_hours [h], filled [ml], settle_time [min].

    Minutes of settling, because that is what a bench has a clock for.
    """
    if column.kind == "standing time":
        return f"{column.name.replace('_hours', '_time')} [min]"
    if column.kind == "date":
        return f"{column.name} (yyyy-mm-dd)"
    if column.kind == "rating":
        return f"{column.name} (1 to 5)"
    if column.kind == "yes/no":
        return f"{column.name} (yes or no)"
    if not column.unit:
        return column.name
    return f"{column.name.removesuffix('_ml').removesuffix('_h')} [{column.unit}]"


def _cell(column: Column) -> Cell:
    """A reading is text because it may be a code such as 18/16/13, which a spreadsheet would make a date."""
    if column.kind == "date":
        return "date"
    return "text" if column.kind in ("text", "rating", "yes/no", "reading") else "number"


def _explanation(column: Column, beside: tuple[str, ...]) -> str:
    """What belongs here and whether it must be filled."""
    meaning = column.meaning
    needed = ""
    if column.required:
        needed = " Must be filled."
    elif beside:
        needed = f" Fill this or {' or '.join(beside)}."
    scale = " A range such as 2-3 is allowed." if column.kind == "rating" else ""
    return f"{meaning[0].upper()}{meaning[1:]}.{scale}{needed}"
