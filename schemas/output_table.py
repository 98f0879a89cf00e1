"""Checks of every table that goes out: its own model, and no NaN."""

from __future__ import annotations

from typing import Any

import pandera.polars as pa
import polars as pl
from pandera.config import get_config_context
from pandera.errors import SchemaError, SchemaErrors

from draincurve.schemas.errors import ContractError

ALLOWED_SHORTFALL = 0.001
"""Hours are written with 3 decimals, so equal hours may differ by this much [h]."""


def checked_table(table: pl.DataFrame, model: type[pa.DataFrameModel], name: str) -> pl.DataFrame:
    """The table, if it passes its model.

    Raises ContractError otherwise, with the table, the column, the rule and the first value that breaks it. Also
    raises it for NaN in any column, since comparisons let it pass, and where validation is switched off from outside.
    """
    if not get_config_context().validation_enabled:
        raise ContractError(f"{name}: checks are switched off by PANDERA_VALIDATION_ENABLED; unset it and run again")
    for column in table.columns:
        if table[column].dtype.is_float() and table[column].is_nan().any():
            raise ContractError(f"{name}: {column}: NaN; a value is a number, or is left empty with a reason")
    try:
        model.validate(table, lazy=True)
    except (SchemaErrors, SchemaError) as fault:
        raise ContractError(f"{name}: {_first_failure(fault)}") from fault
    return table


def refuse_where(table: pl.DataFrame, broken: pl.Expr, name: str, rule: str) -> None:
    """Raises ContractError with the first row that breaks a rule over several columns. Null breaks none."""
    rows = table.filter(broken.fill_null(False))
    if rows.height:
        raise ContractError(f"{name}: {rule}; {rows.height} rows break it, the first is {rows.row(0, named=True)}")


def _first_failure(fault: SchemaErrors | SchemaError) -> str:
    """One line of a validation report."""
    cases: Any = fault.failure_cases
    if not isinstance(cases, pl.DataFrame) or cases.is_empty():
        return str(fault).splitlines()[0]
    first = cases.row(0, named=True)
    return (
        f"{first.get('column') or 'table'}: {first.get('check')} is broken by {first.get('failure_case')!r} "
        f"({cases.height} in all)"
    )


def column_values(model: type[pa.DataFrameModel]) -> list[pl.Expr]:
    """An expression for each column of a table: the `value` in its field's metadata, else the column of its name."""
    columns = model.to_schema().columns
    return [(column.metadata or {}).get("value", pl.col(name)).alias(name) for name, column in columns.items()]
