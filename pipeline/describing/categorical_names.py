"""A large log's drains with each name held once: categories where there were texts."""

from __future__ import annotations

import polars as pl

_NAMES = (
    "hours_basis", "oil_grade", "spring_type", "rider", "rated_by", "surface", "site", "machine", "chamber",
    "drain_method", "service_kind", "new_parts", "note", "source",
)  # fmt: skip


def with_categorical_names(drains: pl.DataFrame) -> pl.DataFrame:
    """The drains with categories for names.

    drains : accepted rows. The frame given is emptied as it goes, so that a large log is never there twice.
    """
    columns = []
    for name in drains.columns:
        column = drains.drop_in_place(name)
        columns.append(column.cast(pl.Categorical) if name in _NAMES else column)
    return pl.DataFrame(columns)


def as_texts(rows: pl.DataFrame) -> pl.DataFrame:
    """Rows with texts again where there were categories, for what is worked on a sample."""
    return rows.with_columns(pl.col(pl.Categorical).cast(pl.String))
