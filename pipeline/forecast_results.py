"""Services, rebuilds and oil of the next weeks: the hand-over from deciding to tables and reports."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import polars as pl


@dataclass(frozen=True, slots=True)
class ForecastResult:
    """The forecast.

    table : as schemas.forecast has it; begins_on, weeks : first day, and number of weeks; units : in service;
    sentences : on what stands behind it, and what is counted but not known.
    """

    table: pl.DataFrame
    begins_on: date
    weeks: int
    units: int
    sentences: tuple[str, ...]
