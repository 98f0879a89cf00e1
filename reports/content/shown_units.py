"""Of a large fleet, the units that a page, a printed edition and a calendar have room for; the tables hold all."""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from draincurve.pipeline.report import Report

_UNIT = ["unit_id", "site"]


def shows_all(result: Report) -> bool:
    """Whether the report shows every unit."""
    most = result.described.processing.shown_units
    return most is None or result.decided.next_service.height <= most


def shown_result(result: Report) -> Report:
    """The result of a large fleet cut down to the units that are shown, with a warning that says so; others as is."""
    units = result.decided.next_service.height
    if shows_all(result):
        return result
    shown = _shown(result)
    said = (
        f"This report shows {shown.height:,} of {units:,} units: those due soonest, and the first of those with a "
        "sign, faster than the fleet, or turned. Every unit stands in next_service.csv and next_service.parquet; "
        "tables.xlsx and service.ics hold the first of them only."
    )
    return replace(
        result,
        described=replace(
            result.described,
            drains=result.described.drains.join(
                shown.select("unit_id").unique(), on="unit_id", how="semi", maintain_order="left"
            ),
        ),
        decided=replace(
            result.decided,
            next_service=shown,
            unit_reasons=result.decided.unit_reasons.join(shown, on=_UNIT, how="semi", nulls_equal=True),
        ),
        warnings=(said, *result.warnings),
    )


def _shown(result: Report) -> pl.DataFrame:
    """Rows of next_service that are shown, in its order, soonest due first."""
    table = result.decided.next_service.with_row_index("_row")
    signed = table.join(result.decided.inspect_now, on=_UNIT, how="semi", nulls_equal=True)
    faster = table.filter(pl.col("standing") == "faster than the fleet").sort("hours_ratio", "_row")
    turned = table.filter(pl.col("turned").fill_null(False))
    kinds = [kind["_row"][: result.described.processing.shown_of_a_kind] for kind in (signed, faster, turned)]
    wanted = pl.concat([*kinds, table["_row"]]).unique(maintain_order=True)[: result.described.processing.shown_units]
    return table.filter(pl.col("_row").is_in(wanted.implode())).drop("_row")
