"""The intervals of a unit without history, one row for each spring and oil, in words."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from draincurve.reports.content import wording
from draincurve.reports.content.trade_words import SET_BY, range_of_oil


@dataclass(frozen=True, slots=True)
class FleetIntervalRow:
    """One spring and oil; hours without their unit; empty text where none is set."""

    spring: str
    oil: str
    interval: str
    range: str
    set_by: str
    drains: int
    units: int


def fleet_interval_rows(fleet_intervals: pl.DataFrame) -> tuple[FleetIntervalRow, ...]:
    """Rows in the order of the table."""
    rows = []
    for cells in fleet_intervals.iter_rows(named=True):
        interval = wording.finite_number(cells["interval_h"])
        low, high = wording.finite_number(cells["interval_low_h"]), wording.finite_number(cells["interval_high_h"])
        rows.append(
            FleetIntervalRow(
                spring=cells["spring_type"] or "",
                oil=cells["oil_grade"] or "",
                interval=wording.UNKNOWN if interval is None else f"{interval:.1f}",
                range=range_of_oil(wording.hours_range(low, high), cells["set_by"]),
                set_by="" if cells["set_by"] is None else SET_BY[cells["set_by"]].label,
                drains=cells["drains"],
                units=cells["units"],
            )
        )
    return tuple(rows)
