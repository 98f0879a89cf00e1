"""The columns of the entry sheets: headings that `check` reads, and a short explanation of each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from draincurve.schemas.channels import CHANNELS
from draincurve.schemas.columns import TABLES, Column

Cell = Literal["date", "number", "text"]

_MINUTES = 60
_ONE_OF = (("oil_hours", "meter_hours"), tuple(channel.rating for channel in CHANNELS))
"""Columns of drains of which one must be filled in."""
_SMALLEST = 0.01
"""Least value of a column that must be over 0, in its unit: less than any bench can measure."""


@dataclass(frozen=True, slots=True)
class EntryColumn:
    """One column of an entry sheet.

    heading : the contract's name with its unit, as `check` reads it.  low, high : limits of what is typed, in the
    heading's unit; None without such a limit.  alternatives : columns of which one may be filled instead.
    """

    table: str
    name: str
    heading: str
    cell: Cell
    explanation: str
    required: bool
    alternatives: tuple[str, ...]
    low: float | None
    high: float | None


def entry_columns(table: str) -> tuple[EntryColumn, ...]:
    """The columns of one table, in the order of the schema."""
    return tuple(_entry_column(table, column) for column in TABLES[table])


def _entry_column(table: str, column: Column) -> EntryColumn:
    factor = _MINUTES if column.kind == "settling time" else 1
    low = None if column.low is None else column.low * factor
    if low is not None and not column.low_allowed:
        low = _SMALLEST
    high = column.high if column.high is not None else column.asked_high
    groups = _ONE_OF if table == "drains" else ()
    alternatives = tuple(name for group in groups if column.name in group for name in group if name != column.name)
    return EntryColumn(
        table,
        column.name,
        heading(column),
        _cell(column),
        _explanation(column, alternatives),
        column.required,
        alternatives,
        low,
        None if high is None else high * factor,
    )


def heading(column: Column) -> str:
    """The contract's name with the unit of what is typed below it: oil_hours [h], filled [ml], settle_time [min].

    Settling times are in minutes, as a bench measures them.
    """
    if column.kind == "settling time":
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
    """A reading is text because it may be a code such as 18/16/13, which a spreadsheet would turn into a date."""
    if column.kind == "date":
        return "date"
    return "text" if column.kind in ("text", "rating", "yes/no", "reading") else "number"


def _explanation(column: Column, alternatives: tuple[str, ...]) -> str:
    """What to enter and whether the cell must be filled in."""
    meaning = column.meaning
    needed = ""
    if column.required:
        needed = " Must be filled in."
    elif alternatives:
        needed = f" Fill in this or {' or '.join(alternatives)}."
    scale = " A range such as 2-3 is allowed." if column.kind == "rating" else ""
    return f"{meaning[0].upper()}{meaning[1:]}.{scale}{needed}"
