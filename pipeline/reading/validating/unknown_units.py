"""Rows of the tables beside the log whose unit nobody knows: they would count nowhere, so they are asked about."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding

MOST_ASKED = 25
"""Units that are asked about in each table; the others are only counted."""
_MAIN = ("drains", "units")
"""Tables whose rows make a unit known."""


def with_unknown_units(tables: Mapping[str, WorkingTable]) -> dict[str, WorkingTable]:
    """Asks about each unit that is in another table than the drains and the register only, at its first row there.

    A name that may be another unit's is asked about as such (see name_likeness), and counts for that unit.
    """
    main = [tables[name] for name in _MAIN if name in tables]
    known = pl.concat([table.typed_where(~table.is_held_back, "unit_key").to_series() for table in main])
    return {name: working if name in _MAIN else _asked(working, known) for name, working in tables.items()}


def _asked(working: WorkingTable, known: pl.Series) -> WorkingTable:
    if "unit_key" not in working.typed.columns:
        return working
    rows = working.typed.select("_row", "unit_key", "unit_id").filter(~working.is_held_back).drop_nulls("unit_key")
    unknown = rows.join(known.unique().to_frame(), on="unit_key", how="anti", maintain_order="left")
    unknown = unknown.filter(~pl.col("unit_id").is_in(sorted(working.alike_units)))
    units = unknown.group_by("unit_key", maintain_order=True).agg(pl.col("_row").first(), pl.len().alias("_rows"))
    few = pl.when(pl.col("_rows") == 1).then(pl.lit("this row counts")).otherwise(
        pl.format("its {} rows here count", "_rows")
    )  # fmt: skip
    message = pl.format(
        "is no unit of the drains or the register, so {} for nothing: correct the name, or add the unit", few
    )
    asked = working.about_rows(units.head(MOST_ASKED), "unit_id", kind="asked", message=message)
    more = units.slice(MOST_ASKED)
    if more.is_empty():
        return working.with_findings(asked)
    others = f"{more.height} more units of {more['_rows'].sum()} rows are in neither the drains nor the register"
    return working.with_findings(asked, file_finding("unit_id", None, kind="asked", message=f"{others}: add them"))
