"""What is known of the oils, after cleaning."""

from __future__ import annotations

import pandera.polars as pa

from schemas.columns import OILS, Column
from schemas.limits import field_for

_COLUMNS: dict[str, Column] = {column.name: column for column in OILS}


class Oils(pa.DataFrameModel):
    """What is known of the oils, after cleaning."""

    oil_grade: str = field_for(_COLUMNS["oil_grade"])
    kv40: float = field_for(_COLUMNS["kv40"])
    kv100: float = field_for(_COLUMNS["kv100"])
    note: str = field_for(_COLUMNS["note"])
