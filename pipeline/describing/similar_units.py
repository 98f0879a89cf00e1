"""Rows of other tables under a name that may be a unit's own, such as usage of FO1 beside drains of F01.

Nothing is merged before somebody has said so. But if these rows were ignored until then, a slip of the pen would
lose rides, an event or a maker's limit, and unknown is never safe.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import polars as pl


class RidesOfSimilarUnits(NamedTuple):
    """Usage and bookings in which units also have the rows of names that may be theirs; None as in the log."""

    usage: pl.DataFrame | None
    bookings: pl.DataFrame | None


def rides_of_similar_units(
    usage: pl.DataFrame | None,
    bookings: pl.DataFrame | None,
    drains: pl.DataFrame,
    pairs: Sequence[tuple[str, str]],
) -> RidesOfSimilarUnits | None:
    """The tables with rows of similar names added, None where there are no such rows.

    drains : accepted rows; pairs : unit_id of names that may be one. Only a name without drains can be a unit's.
    """
    tables = (usage, bookings)
    added = [None if table is None else rows_of_similar_units(table, drains, pairs) for table in tables]
    if not any(rows is not None and rows.height for rows in added):
        return None
    usage, bookings = (
        table if table is None or rows is None else pl.concat([table, rows], how="diagonal")
        for table, rows in zip(tables, added, strict=True)
    )
    return RidesOfSimilarUnits(usage, bookings)


def rows_of_similar_units(rows: pl.DataFrame, drains: pl.DataFrame, pairs: Sequence[tuple[str, str]]) -> pl.DataFrame:
    """Rows of names that may be a unit's, as that unit's own: columns of `rows`.

    rows : with unit_key and unit_id. The rest is as in `rides_of_similar_units`.
    """
    if not pairs:
        return rows.clear()
    units = drains.select(pl.col("unit_key", "unit_id").cast(pl.String)).unique().drop_nulls()
    names = pl.DataFrame([*pairs, *(pair[::-1] for pair in pairs)], schema=["_other", "unit_id"], orient="row")
    names = names.join(units, on="unit_id", how="inner")
    known = units["unit_id"].implode()
    names = names.filter(~pl.col("_other").is_in(known)).unique(maintain_order=True)
    renamed_rows = rows.drop("unit_key").rename({"unit_id": "_other"}).join(names, on="_other", how="inner")
    return renamed_rows.select(rows.columns).cast(rows.schema)
