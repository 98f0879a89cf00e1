"""Readings of wear and of the oil, after cleaning: known quantities in their own units, others as typed."""

from __future__ import annotations

from datetime import date

import pandera.polars as pa
import polars as pl

from draincurve.schemas.columns import EARLIEST_YEAR, MEASUREMENTS, Column
from draincurve.schemas.limits import field_for

_COLUMNS: dict[str, Column] = {column.name: column for column in MEASUREMENTS}


class Measurements(pa.DataFrameModel):
    """Readings of wear and of the oil, after cleaning: known quantities in their own units, others as typed."""

    unit_id: str = field_for(_COLUMNS["unit_id"])
    measured_on: pl.Date = field_for(_COLUMNS["measured_on"], ge=date(EARLIEST_YEAR, 1, 1))
    quantity: str = field_for(_COLUMNS["quantity"])
    value: float = field_for(_COLUMNS["value"])
    unit: str = field_for(_COLUMNS["unit"])
    component_hours: float = field_for(_COLUMNS["component_hours"])
    rebuilt_on: pl.Date = field_for(_COLUMNS["rebuilt_on"], ge=date(EARLIEST_YEAR, 1, 1))
    site: str = field_for(_COLUMNS["site"])
