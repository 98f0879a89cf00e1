"""Measured wear as a table: each unit and quantity with its latest reading, limit and projected crossing."""

from __future__ import annotations

import polars as pl

from draincurve.pipeline.deciding import WearResult

_SCHEMA = pl.Schema(
    [
        *((name, pl.String()) for name in ("unit_id", "site", "quantity", "unit", "clock")),
        ("readings", pl.Int64()),
        ("latest", pl.Float64()),
        ("latest_is", pl.String()),
        ("latest_on", pl.Date()),
        ("limit", pl.String()),
        ("past_limit", pl.Boolean()),
        *((name, pl.Float64()) for name in ("meets_limit_h", "meets_early_h", "meets_late_h", "inspect_by_h")),
        ("left_on_oil_h", pl.Float64()),
        ("why", pl.String()),
    ]
)
WEAR_MEANINGS = {
    "unit_id": "the unit",
    "site": "workshop or base; empty where none is named",
    "quantity": "what was measured",
    "unit": "unit of the readings",
    "clock": "the hours over which it changes: of the oil or of the part",
    "readings": "readings of the present part, or of the unit's oil, that were fitted; several of one fill are one",
    "latest": "the latest reading",
    "latest_is": "under or over, where the reading is only known to be that; else empty",
    "latest_on": "its day",
    "limit": "the limit, with its unit; empty where none is set",
    "past_limit": "whether the latest reading is at or past it",
    "meets_limit_h": "hours at which the unit's line meets the limit, median; empty beyond what was measured",
    "meets_early_h": "5 % point of the same",
    "meets_late_h": "95 % point of the same",
    "inspect_by_h": "hours at which a reading past the limit has the accepted chance, or the end of the readings",
    "left_on_oil_h": "hours on the oil that runs now until then",
    "why": "one sentence",
}


def wear_table(wear: WearResult) -> pl.DataFrame:
    """One row for each unit in service and quantity."""
    rows = [
        (unit.unit_id, unit.site, quantity.title, quantity.unit, quantity.clock, unit.readings, unit.last_value,
         unit.last_bound, unit.last_on, None if quantity.limit is None else quantity.limit.label, unit.past_limit,
         unit.line_middle, unit.line_low, unit.line_high, unit.wear_hours, unit.allowed_h, unit.why)
        for quantity in wear.quantities
        for unit in quantity.units
    ]  # fmt: skip
    return pl.DataFrame(rows, schema=_SCHEMA, orient="row")
