"""Categorical encoding of names, so that a large log holds each distinct text once."""

from __future__ import annotations

import polars as pl

_NAMES = (
    "hours_basis", "oil_grade", "spring_type", "rider", "rated_by", "surface", "site", "machine", "chamber",
    "drain_method", "service_kind", "new_parts", "note", "source",
)  # fmt: skip


def with_categorical_names(drains: pl.DataFrame) -> pl.DataFrame:
    """The accepted drains with categories in place of names.

    The given frame loses its columns one by one, so that a large log is never in memory twice.
    """
    columns = []
    for name in drains.columns:
        column = drains.drop_in_place(name)
        columns.append(column.cast(pl.Categorical) if name in _NAMES else column)
    return pl.DataFrame(columns)


def as_texts(rows: pl.DataFrame) -> pl.DataFrame:
    """The rows with texts in place of categories."""
    return rows.with_columns(pl.col(pl.Categorical).cast(pl.String))
