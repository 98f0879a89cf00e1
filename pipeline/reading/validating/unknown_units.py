"""Units that would be missing in silence: those of which every drain is held back, or that only side tables name."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from draincurve.pipeline.reading.cleaning.names_of_no_unit import NO_UNIT
from draincurve.pipeline.reading.cleaning.row_kinds import NO_ROWS
from draincurve.pipeline.reading.cleaning.shifted_rows import SHIFTED
from draincurve.pipeline.reading.cleaning.unit_keys import rows_of_each_unit
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding

MOST_ASKED = 25
"""Units that are asked about in each table; the others are only counted."""
_MAIN = ("drains", "units")
"""Tables whose rows make a unit known."""


def with_unknown_units(tables: Mapping[str, WorkingTable]) -> dict[str, WorkingTable]:
    """Asks about each unit without a drain that can be used, and each that is in neither the drains nor the register.

    A name that may be another unit's is asked about as such (see name_similarity), and counts for that unit.
    """
    tables = {**tables, "drains": _with_units_held_back(tables["drains"])}
    main = [tables[name] for name in _MAIN if name in tables]
    known = pl.concat([table.parsed_where(~table.is_held_back, "unit_key").to_series() for table in main])
    return {name: working if name in _MAIN else _with_questions(working, known) for name, working in tables.items()}


def _with_units_held_back(drains: WorkingTable) -> WorkingTable:
    """The drains with a question about each unit all of whose rows are held back; lines that are no rows are none.

    A row whose cell names several units is one of each of them, and one whose cell is no unit's name is none's.
    """
    reason = pl.col("message")
    of_no_unit = (pl.col("column") == "unit_id") & (reason.is_in(NO_UNIT) | reason.str.ends_with(SHIFTED))
    no_rows = drains.findings.filter(reason.is_in(NO_ROWS) | of_no_unit).get_column("row").drop_nulls()
    columns = ("_row", "unit_key", "unit_id", drains.is_held_back.alias("_out"))
    rows = drains.parsed_where(~pl.col("_row").is_in(no_rows.implode()), *columns)
    rows = rows_of_each_unit(rows, drains.units_in_one_cell)
    out = rows.filter("_out").drop_nulls("unit_key")
    lost = out.join(rows.filter(~pl.col("_out")), on="unit_key", how="anti", maintain_order="left")
    units = lost.group_by("unit_key", maintain_order=True).agg(pl.col("unit_id").first(), pl.len().alias("rows"))
    asked = [
        file_finding(
            "unit_id",
            unit,
            kind="asked",
            message=f"none of its drains can be used ({count} held back), so it has no interval: correct them; until "
            "then treat it as due",
        )
        for unit, count in units.head(MOST_ASKED).select("unit_id", "rows").iter_rows()
    ]
    if units.height > MOST_ASKED:
        message = f"no drain of {units.height - MOST_ASKED} more units can be used: treat them as due"
        asked.append(file_finding("unit_id", None, kind="asked", message=message))
    return drains.with_findings(*asked)


def _with_questions(working: WorkingTable, known: pl.Series) -> WorkingTable:
    if "unit_key" not in working.parsed.columns:
        return working
    rows = working.parsed.select("_row", "unit_key", "unit_id").filter(~working.is_held_back).drop_nulls("unit_key")
    unknown = rows.join(known.unique().to_frame(), on="unit_key", how="anti", maintain_order="left")
    unknown = unknown.filter(~pl.col("unit_id").is_in(sorted(working.similar_units)))
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
