"""The units of a large fleet that the page, the printed edition and the calendar show; the tables hold all."""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from draincurve.pipeline.plan_result import PlanResult
from draincurve.schemas.next_service_table import FASTER

WHICH = "those due soonest, and the first of those with a sign, faster than the fleet, or turned"

_UNIT = ["unit_id", "site"]


def shows_all(result: PlanResult) -> bool:
    """Whether the report shows every unit."""
    most = result.described.processing.shown_units
    return most is None or result.decided.next_service.height <= most


def shown_result(result: PlanResult) -> PlanResult:
    """The result of a large fleet with only the units shown, and a warning about it; any other fleet unchanged."""
    units = result.decided.next_service.height
    if shows_all(result):
        return result
    shown = _shown_rows(result)
    warning = (
        f"This report shows {shown.height:,} of {units:,} units: {WHICH}. Every unit is in next_service.csv and "
        "next_service.parquet; tables.xlsx and service.ics hold only the first of them."
    )
    drains = result.described.drains
    shown_ids = shown.select("unit_id").unique()
    return replace(
        result,
        described=replace(
            result.described, drains=drains.join(shown_ids, on="unit_id", how="semi", maintain_order="left")
        ),
        decided=replace(
            result.decided,
            next_service=shown,
            unit_reasons=result.decided.unit_reasons.join(shown, on=_UNIT, how="semi", nulls_equal=True),
        ),
        warnings=(warning, *result.warnings),
    )


def _shown_rows(result: PlanResult) -> pl.DataFrame:
    """The rows of next_service that are shown, in its order."""
    processing = result.described.processing
    table = result.decided.next_service.with_row_index("_row")
    with_sign = table.join(result.decided.inspect_now, on=_UNIT, how="semi", nulls_equal=True)
    faster = table.filter(pl.col("standing") == FASTER).sort("hours_ratio", "_row")
    turned = table.filter(pl.col("turned").fill_null(False))
    groups = [group["_row"][: processing.shown_of_a_kind] for group in (with_sign, faster, turned)]
    wanted = pl.concat([*groups, table["_row"]]).unique(maintain_order=True)[: processing.shown_units]
    return table.filter(pl.col("_row").is_in(wanted.implode())).drop("_row")
