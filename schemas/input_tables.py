"""Pandera schemas of the tables that come in, after cleaning. Columns and their limits are those of the glossary."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pandera.polars as pa
import polars as pl

from draincurve.schemas.channels import CHANNELS, RATING_HIGH, RATING_LOW, Channel
from draincurve.schemas.columns import EARLIEST_YEAR, LONGEST_UNIT_ID, SERVICE_KINDS, TABLES, Column
from draincurve.schemas.service_kinds import is_top_up

MOST_RETURNED = 1.25
"""Drained volume over filled volume above which one of the two must be wrong: a fork makes no oil."""

_TYPES: dict[str, Any] = {"text": pl.String, "date": pl.Date, "yes/no": pl.Boolean}
"""By kind of column; every other kind is a number."""


def _column(column: Column) -> pa.Column:
    checks = []
    if column.kind == "date":
        checks.append(pa.Check.ge(date(EARLIEST_YEAR, 1, 1)))
    if column.low is not None:
        checks.append(pa.Check.ge(column.low) if column.low_allowed else pa.Check.gt(column.low))
    if column.high is not None:
        checks.append(pa.Check.le(column.high))
    if column.name == "service_kind":
        checks.append(pa.Check.isin(SERVICE_KINDS))
    if column.name == "unit_id":
        checks.append(pa.Check.str_length(1, LONGEST_UNIT_ID))
    kind = _TYPES.get(column.kind, pl.Float64)
    return pa.Column(kind, checks, nullable=not column.required, description=column.meaning)


def _level_columns(channel: Channel) -> dict[str, pa.Column]:
    """Lowest and highest level of a rating such as 2-3; both are null where nothing was rated."""
    levels = [pa.Check.ge(RATING_LOW), pa.Check.le(RATING_HIGH)]
    return {name: pa.Column(pl.Int64, levels, nullable=True) for name in (channel.low, channel.high)}


def _returned() -> pl.Expr:
    """Not much more oil comes out than went in."""
    fits = pl.col("drained_ml") <= MOST_RETURNED * pl.col("filled_ml")
    return (fits | (pl.col("filled_ml") <= 0)).fill_null(True)


def _hours_given() -> pl.Expr:
    """Hours or a meter reading, unless the row is a top-up."""
    return pl.col("oil_hours").is_not_null() | pl.col("meter_hours").is_not_null() | is_top_up()


def _rated() -> pl.Expr:
    """At least one rating, unless the row is a top-up."""
    return pl.any_horizontal(pl.col(channel.low).is_not_null() for channel in CHANNELS) | is_top_up()


def _ranges_in_order() -> pl.Expr:
    """The lowest level of a rating is not above its highest."""
    return pl.all_horizontal((pl.col(channel.low) <= pl.col(channel.high)).fill_null(True) for channel in CHANNELS)


def _thins_as_it_warms() -> pl.Expr:
    """An oil is thinner at 100 C than at 40 C."""
    return (pl.col("kv100") < pl.col("kv40")).fill_null(True)


_RULES: dict[str, dict[str, Callable[[], pl.Expr]]] = {
    "drains": {"returned": _returned, "hours": _hours_given, "rated": _rated, "rating_order": _ranges_in_order},
    "oils": {"thins": _thins_as_it_warms},
}
"""By table, the rules over several columns, by the name that a failure carries."""


def _rule(name: str, holds: pl.Expr) -> pa.Check:
    return pa.Check(lambda data: data.lazyframe.select(holds), name=name)


_HOLDS: dict[str, Callable[[pl.Expr, dict[str, Any]], pl.Expr]] = {
    "greater_than_or_equal_to": lambda cell, limits: cell >= limits["min_value"],
    "greater_than": lambda cell, limits: cell > limits["min_value"],
    "less_than_or_equal_to": lambda cell, limits: cell <= limits["max_value"],
    "isin": lambda cell, limits: cell.is_in(list(limits["allowed_values"])),
    "str_length": lambda cell, limits: cell.str.len_chars().is_between(limits["min_value"], limits["max_value"]),
}
"""Pandera's own checks as expressions, by their names."""


def _sound(name: str, column: pa.Column) -> pl.Expr:
    """Whether every value of a column keeps its limits; False for a check that is not among those known here."""
    cell = pl.col(name)
    holds = [
        _HOLDS[check.name](cell, check.statistics) if check.name in _HOLDS else pl.lit(False)
        for check in column.checks
    ]
    if not column.nullable:
        holds.append(cell.is_not_null() & (cell.is_not_nan() if column.dtype.type == pl.Float64 else True))
    return pl.all_horizontal(pl.lit(True), *[one.all() for one in holds])


def _schema(table: str, columns: tuple[Column, ...]) -> pa.DataFrameSchema:
    plain = {column.name: _column(column) for column in columns if column.kind != "rating"}
    rated = [channel for channel in CHANNELS if any(column.name == channel.rating for column in columns)]
    levels = {name: column for channel in rated for name, column in _level_columns(channel).items()}
    rules = [_rule(name, holds()) for name, holds in _RULES.get(table, {}).items()]
    return pa.DataFrameSchema(plain | levels, checks=rules)


INPUT_SCHEMAS: dict[str, pa.DataFrameSchema] = {table: _schema(table, columns) for table, columns in TABLES.items()}
"""By table of the contract."""


def may_break(table: str, rows: pl.DataFrame) -> frozenset[str]:
    """Columns and rules of a table's schema that a row may break; for the others, one pass says that none does.

    Pandera takes a pass for each check of each column, which is a hundred for drains.
    """
    columns = INPUT_SCHEMAS[table].columns
    empty = {column.name for column in rows if column.null_count() == rows.height}
    typed = {name for name, column in columns.items() if rows.schema.get(name) == column.dtype.type}
    sound = {name for name, column in columns.items() if column.nullable and name in empty}
    rules = _RULES.get(table, {})
    passes = {name: _sound(name, columns[name]) for name in typed - sound}
    if not columns.keys() - rows.columns:
        passes |= {name: holds().all() for name, holds in rules.items()}
    kept = rows.select(one.alias(name) for name, one in passes.items()).row(0, named=True) if passes else {}
    sound |= {name for name, holds in kept.items() if holds}
    return frozenset({*columns, *rules} - sound)
