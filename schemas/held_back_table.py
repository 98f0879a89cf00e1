"""held_back.csv: every row that was not used, with where it stood, why, and the row as it came."""

from __future__ import annotations

import pandera.polars as pa
import polars as pl

from draincurve.schemas.output_table import checked_table


class HeldBack(pa.DataFrameModel):
    """One row per reason of a row held back; the columns of the row as typed follow, as text."""

    source: str = pa.Field(description="file or table the row came from; never empty", str_length={"min_value": 1})
    line: int = pa.Field(description="line number in that source, as an editor or workbook counts", ge=1)
    column: str = pa.Field(description="column at fault; empty where the row as a whole is", nullable=True)
    value: str = pa.Field(description="the value as typed; empty where the cell was", nullable=True)
    reason: str = pa.Field(
        description="what is wrong and what was expected, in words for a technician; never empty",
        str_length={"min_value": 1},
    )

    class Config:
        """These columns first; the row as it came may have any others."""

        strict = False
        ordered = False


COLUMNS = tuple(HeldBack.to_schema().columns)


def checked_held_back(table: pl.DataFrame) -> pl.DataFrame:
    """The table itself, once it has passed its model, its own columns first; raises ContractError."""
    checked_table(table, HeldBack, "held_back")
    rest = [name for name in table.columns if name not in COLUMNS]
    return table.select(*COLUMNS, *rest)
