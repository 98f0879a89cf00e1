"""What a column of a result table means, its unit, and its number format in a workbook."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

import pandera.polars as pa
import polars as pl

_UNIT = re.compile(r"\s*\[(?P<unit>[^\]]+)\]")

DATE_FORMAT = "yyyy-mm-dd"
_PERCENT = ("chance, shown in %", "0.0 %")
_PROBABILITY = ("probability, 0 to 1", "0.000")
_TIMES = ("times", "0.00")

_NAMED = {
    "risk_now": _PERCENT,
    "p_faster": _PERCENT,
    "p_value": _PROBABILITY,
    "p_adjusted": _PROBABILITY,
    "p_permutation": _PROBABILITY,
    "hours_ratio": _TIMES,
    "hours_ratio_low": _TIMES,
    "hours_ratio_high": _TIMES,
    "hours_multiplier": _TIMES,
    "low": _TIMES,
    "high": _TIMES,
    "narrower": ("share of before", "0.000"),
}
"""Numbers without a unit: what they are, and their number format."""

_FORECAST = dict.fromkeys(("expected", "low", "high"), ("in the unit of its row", "0.0"))
"""Numbers of the forecast, whose unit is in a column of its own."""

_UNITS_OF_FORMAT = {"h": "0.0"}


@dataclass(frozen=True, slots=True)
class ResultColumn:
    """One column of a sheet; number_format is empty for text."""

    name: str
    meaning: str
    unit: str
    number_format: str


def result_columns(table: pl.DataFrame, meanings: Mapping[str, str]) -> tuple[ResultColumn, ...]:
    """The columns of a table in its order.

    meanings : what each column means, with its unit in square brackets, if any. A column without a meaning is part of
    a row as it came.
    """
    named = _NAMED | _FORECAST if "expected" in table.columns else _NAMED
    return tuple(_column(name, kind, meaning=meanings.get(name), named=named) for name, kind in table.schema.items())


def model_meanings(model: type[pa.DataFrameModel]) -> dict[str, str]:
    """The meanings that a schema gives its columns."""
    return {name: str(column.description) for name, column in model.to_schema().columns.items()}


def _column(
    name: str, kind: pl.DataType, *, meaning: str | None, named: Mapping[str, tuple[str, str]]
) -> ResultColumn:
    text = meaning or "from the row as it came, under its own heading"
    stated = _UNIT.search(text)
    unit, number_format = _unit_and_format(name, kind, stated=stated["unit"] if stated else "", named=named)
    return ResultColumn(name, _UNIT.sub("", text), unit, number_format)


def _unit_and_format(
    name: str, kind: pl.DataType, *, stated: str, named: Mapping[str, tuple[str, str]]
) -> tuple[str, str]:
    """The unit and the number format; stated : the unit that the meaning names, if any.  named : those by name."""
    if kind == pl.Date:
        return "date", DATE_FORMAT
    if kind == pl.Boolean:
        return "yes (TRUE) or no (FALSE)", "General"
    if kind == pl.String:
        return "text", ""
    if name in named:
        return named[name]
    if kind.is_integer():
        return "number", "0"
    return stated or "number", _UNITS_OF_FORMAT.get(stated, "General")
