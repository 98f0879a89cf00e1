"""What a cell of an entry sheet accepts, and its message to somebody who types something else."""

from __future__ import annotations

from datetime import date
from typing import Any

from draincurve.reports.workbooks.entry.entry_choices import ChoiceList
from draincurve.reports.workbooks.entry.entry_columns import EntryColumn
from draincurve.schemas.channels import RATING_HIGH, RATING_LOW
from draincurve.schemas.columns import (
    EARLIEST_YEAR,
    LONGEST_UNIT_ID,
    SERVICE_KINDS,
    column_of,
)

LONGEST_TITLE, LONGEST_MESSAGE = 32, 255
"""Characters of a message. Source: ECMA-376 part 1, 18.3.1.32 (dataValidation), as spreadsheets apply it."""

_LEVELS = range(RATING_LOW, RATING_HIGH + 1)
_PAIRS = sorted(
    ((low, high) for low in _LEVELS for high in _LEVELS if low < high), key=lambda pair: pair[1] - pair[0]
)
RATINGS = (*map(str, _LEVELS), *(f"{low}-{high}" for low, high in _PAIRS))
"""Single levels, then ranges, the narrow ones first."""

FIXED = {"yes/no": ("yes", "no"), "rating": RATINGS}
_DATES_AHEAD = "bookings"
"""The only table with dates in the future."""


def rule_of(column: EntryColumn, choice: ChoiceList | None) -> dict[str, Any]:
    """The validation of one column in xlsxwriter's terms; lists that the shop may extend are ranges, never inline.

    A wrong number, date, rating or yes/no is refused. A name that is not on its list gives a warning and may be kept.
    """
    rule = _rule(column, choice)
    return {
        **rule,
        "ignore_blank": True,
        "input_title": column.heading[:LONGEST_TITLE],
        "input_message": column.explanation[:LONGEST_MESSAGE],
    }


def range_name(choice: ChoiceList) -> str:
    """The name of a list's cells in the workbook."""
    return f"list_{choice.title}"


def _rule(column: EntryColumn, choice: ChoiceList | None) -> dict[str, Any]:
    kind = column_of(column.table, column.name).kind
    if kind in FIXED:
        return _fixed(FIXED[kind], "Pick one from the list, or leave the cell blank.")
    if column.name == "service_kind":
        return _fixed(SERVICE_KINDS, f"Write {', '.join(SERVICE_KINDS[:-1])} or {SERVICE_KINDS[-1]}. Blank is oil.")
    if column.cell == "date":
        return _date(column)
    if column.cell == "number":
        return _number(column)
    if column.table == "units" and column.name == "unit_id":
        return _short_name()
    if choice is not None:
        return _choice_rule(choice)
    return {"validate": "any"}


def _fixed(words: tuple[str, ...], message: str) -> dict[str, Any]:
    return {"validate": "list", "source": list(words), "error_title": "Not on the list", "error_message": message}


def _choice_rule(choice: ChoiceList) -> dict[str, Any]:
    return {
        "validate": "list",
        "source": f"={range_name(choice)}",
        "error_type": "warning",
        "error_title": "A new name",
        "error_message": "A misspelt name would count as another one. If this name is new, keep it and add it below "
        f"the heading {choice.title} on the sheet lists.",
    }


def _date(column: EntryColumn) -> dict[str, Any]:
    first = date(EARLIEST_YEAR, 1, 1)
    if column.table == _DATES_AHEAD:
        return {
            "validate": "date",
            "criteria": ">=",
            "value": first,
            "error_title": "Not a date",
            "error_message": f"Write the date as yyyy-mm-dd, from {EARLIEST_YEAR} on.",
        }
    return {
        "validate": "date",
        "criteria": "between",
        "minimum": first,
        "maximum": "=TODAY()",
        "error_title": "Not a past date",
        "error_message": f"Write the date as yyyy-mm-dd, from {EARLIEST_YEAR} to today.",
    }


def _number(column: EntryColumn) -> dict[str, Any]:
    name, _, unit = column.heading.partition(" [")
    quantity = f"{name} in {unit.rstrip(']')}" if unit else name
    low = 0.0 if column.low is None else column.low
    over = "over 0" if not column_of(column.table, column.name).low_allowed else f"{low:g} or more"
    if column.high is None:
        limits, limits_text = {"criteria": ">=", "value": low}, over
    else:
        limits, limits_text = (
            {"criteria": "between", "minimum": low, "maximum": column.high},
            f"{over}, up to {column.high:g}",
        )
    return {
        "validate": "decimal",
        **limits,
        "error_title": "Not a possible number",
        "error_message": f"Write {quantity} as a number without its unit: {limits_text}. Leave the cell blank if "
        "nobody knows.",
    }


def _short_name() -> dict[str, Any]:
    return {
        "validate": "length",
        "criteria": "between",
        "minimum": 1,
        "maximum": LONGEST_UNIT_ID,
        "error_title": "Too long",
        "error_message": f"A unit's name has at most {LONGEST_UNIT_ID} characters.",
    }
