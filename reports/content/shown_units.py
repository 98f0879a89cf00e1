"""Of a large fleet, the units that a page, a printed edition and a calendar have room for; the tables hold all."""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from draincurve.pipeline.plan_result import PlanResult

_UNIT = ["unit_id", "site"]


def shows_all(result: PlanResult) -> bool:
    """Whether the report shows every unit."""
    most = result.processing.shown_units
    return most is None or result.next_service.height <= most


def shown_result(result: PlanResult) -> PlanResult:
    """The result of a large fleet cut down to the units that are shown, with a warning that says so; others as is."""
    units = result.next_service.height
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
        next_service=shown,
        unit_reasons=result.unit_reasons.join(shown, on=_UNIT, how="semi", nulls_equal=True),
        drains=result.drains.join(shown.select("unit_id").unique(), on="unit_id", how="semi", maintain_order="left"),
        warnings=(said, *result.warnings),
    )


def _shown(result: PlanResult) -> pl.DataFrame:
    """Rows of next_service that are shown, in its order, soonest due first."""
    table = result.next_service.with_row_index("_row")
    signed = table.join(result.inspect_now, on=_UNIT, how="semi", nulls_equal=True)
    faster = table.filter(pl.col("standing") == "faster than the fleet").sort("hours_ratio", "_row")
    turned = table.filter(pl.col("turned").fill_null(False))
    kinds = [kind["_row"][: result.processing.shown_of_a_kind] for kind in (signed, faster, turned)]
    wanted = pl.concat([*kinds, table["_row"]]).unique(maintain_order=True)[: result.processing.shown_units]
    return table.filter(pl.col("_row").is_in(wanted.implode())).drop("_row")
