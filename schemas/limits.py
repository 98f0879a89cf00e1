"""Glossary columns to Pandera fields, so that a limit is written once."""

from __future__ import annotations

from typing import Any

import pandera.polars as pa

from draincurve.schemas.columns import LONGEST_UNIT_ID, Column


def field_for(column: Column, **checks: Any) -> Any:
    """A Pandera field with the column's hard limits, meaning, unit and reason.

    checks : further checks of Pandera, such as isin, for limits that are no numbers
    """
    limits = dict(checks)
    if column.low is not None:
        limits["ge" if column.low_allowed else "gt"] = column.low
    if column.high is not None:
        limits["le"] = column.high
    if column.name == "unit_id":
        limits["str_length"] = {"min_value": 1, "max_value": LONGEST_UNIT_ID}
    return pa.Field(
        nullable=not column.required,
        title=column.name,
        description=column.meaning,
        metadata={"unit": column.unit, "why": column.why},
        **limits,
    )
