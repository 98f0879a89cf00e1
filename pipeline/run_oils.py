"""The catalogue of oils alone, for one file: read, clean, validate, describe."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import polars as pl

from draincurve.pipeline.describing.oil_catalogue import OilResult, oil_catalogue
from draincurve.pipeline.describing.viscosity_temperature import COLDEST_C, HOTTEST_C
from draincurve.pipeline.reading.sources import SourceAddress, read_table
from draincurve.pipeline.reading.validating.accounting import TableAccount
from draincurve.pipeline.reading.validating.checked_log import check_alone
from draincurve.schemas.errors import SettingsError
from draincurve.schemas.settings import Settings


@dataclass(frozen=True, slots=True)
class CheckedOils:
    """The catalogue, its row accounting, and the rows held back (columns as in CheckedLog)."""

    catalogue: OilResult
    account: TableAccount
    held_back: pl.DataFrame


def catalogue_file(address: SourceAddress, celsius: float, as_of: date) -> CheckedOils:
    """The catalogue of a file of oils, of the sheet `oils` of a workbook, or of a table of a database.

    celsius : temperature [C] of the last column. Raises SourceError for a file that cannot be read, SettingsError
    for a temperature outside -40 to 150 C.
    """
    if not COLDEST_C <= celsius <= HOTTEST_C:
        raise SettingsError(f"temperature {celsius:g} C: expected {COLDEST_C:g} to {HOTTEST_C:g} C")
    rows, held_back, account = check_alone(read_table(address, "oils"), Settings(), as_of)
    return CheckedOils(oil_catalogue(rows, celsius), account, held_back)
