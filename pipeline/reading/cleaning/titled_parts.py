"""Titles among the rows that may be sites: units of one name below several of them are then several units."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from draincurve.pipeline.reading.cleaning.row_kinds import TITLE
from draincurve.pipeline.reading.cleaning.working_table import file_finding

SHARED = 0.5
"""Share of the units that are below several titles, from which these part no units."""
OVERLAP_DAYS = 14
"""Days for which the dates below two titles overlap at least; those of months and races follow each other."""


def questions_about_parts(
    parsed: pl.DataFrame, no_rows: pl.DataFrame, columns: Mapping[str, str]
) -> list[pl.DataFrame]:
    """The question whether titles among the rows of drains are sites, where the log has no column of sites.

    parsed : `_row`, unit_id and drained_on. no_rows : lines that are no rows. columns : that the headers name
    """
    titles = no_rows.filter(pl.col("reason") == TITLE).drop_nulls("text").sort("_row")
    if titles["text"].n_unique() < 2 or "site" in columns.values() or "drained_on" not in columns.values():
        return []
    rows = parsed.select("_row", pl.col("unit_id").cast(pl.String), "drained_on")
    rows = rows.filter(~pl.col("_row").is_in(no_rows["_row"].implode())).drop_nulls()
    part = titles["_row"].cast(pl.Int64).search_sorted(rows["_row"].cast(pl.Int64), side="right")
    below = rows.with_columns(part.alias("_part")).filter(pl.col("_part") > 0)
    of_unit = below.group_by("unit_id", maintain_order=True).agg(pl.col("_part").n_unique().alias("parts"))
    shared = of_unit.filter(pl.col("parts") > 1)["unit_id"]
    spans = below.group_by("_part").agg(
        pl.col("drained_on").min().alias("first"), pl.col("drained_on").max().alias("last")
    )
    spans = spans.sort("first", "last")
    overlap = (spans["last"].cum_max().shift() - spans["first"]).dt.total_days().drop_nulls()
    if shared.len() < max(1, SHARED * of_unit.height) or 2 * int((overlap > OVERLAP_DAYS).sum()) < max(
        1, overlap.len()
    ):
        return []
    first, second = titles["text"].unique(maintain_order=True)[:2]
    message = (
        f"stands in a line of its own, as '{second}' does, and unit {shared[0]} is below several such lines: are "
        "they sites? Write them into a column site; until then it is one unit"
    )
    return [file_finding(None, first, kind="asked", message=message)]
