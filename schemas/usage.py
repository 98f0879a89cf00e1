"""Hours ridden, day by day, after cleaning."""

from __future__ import annotations

from datetime import date

import pandera.polars as pa
import polars as pl

from draincurve.schemas.columns import EARLIEST_YEAR, USAGE, Column
from draincurve.schemas.limits import field_for

_COLUMNS: dict[str, Column] = {column.name: column for column in USAGE}


class Usage(pa.DataFrameModel):
    """Hours ridden, day by day, after cleaning."""

    unit_id: str = field_for(_COLUMNS["unit_id"])
    site: str = field_for(_COLUMNS["site"])
    date: pl.Date = field_for(_COLUMNS["date"], ge=date(EARLIEST_YEAR, 1, 1))
    hours: float = field_for(_COLUMNS["hours"])
