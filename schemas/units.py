"""The register after cleaning: what each unit is and runs now."""

from __future__ import annotations

import pandera.polars as pa

from draincurve.schemas.columns import UNITS, Column
from draincurve.schemas.limits import field_for

_COLUMNS: dict[str, Column] = {column.name: column for column in UNITS}


class Units(pa.DataFrameModel):
    """The register after cleaning: what each unit is and runs now."""

    unit_id: str = field_for(_COLUMNS["unit_id"])
    machine: str = field_for(_COLUMNS["machine"])
    position: str = field_for(_COLUMNS["position"])
    site: str = field_for(_COLUMNS["site"])
    fill_ml: float = field_for(_COLUMNS["fill_ml"])
    spring_type: str = field_for(_COLUMNS["spring_type"])
    oil_grade: str = field_for(_COLUMNS["oil_grade"])
    rider: str = field_for(_COLUMNS["rider"])
    max_interval_h: float = field_for(_COLUMNS["max_interval_h"])
    max_oil_days: float = field_for(_COLUMNS["max_oil_days"])
    in_service: bool = field_for(_COLUMNS["in_service"])
