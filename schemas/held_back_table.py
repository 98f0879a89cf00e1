"""held_back.csv: every row that was not used, with its place in the source, the reason, and the row as it came."""

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
    unit_id: str = pa.Field(description="unit that the row names; empty where it names none", nullable=True)
    day: str = pa.Field(
        description="day of the row, as read or else as typed; empty where it has none", nullable=True
    )

    class Config:
        """These columns first, then any others, which are those of the row as it came."""

        strict = False
        ordered = False


COLUMNS = tuple(HeldBack.to_schema().columns)


def checked_held_back(table: pl.DataFrame) -> pl.DataFrame:
    """The table with its own columns first, if it passes its model. Raises ContractError otherwise."""
    checked_table(table, HeldBack, "held_back")
    rest = [name for name in table.columns if name not in COLUMNS]
    return table.select(*COLUMNS, *rest)
