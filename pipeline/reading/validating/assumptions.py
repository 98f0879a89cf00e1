"""Cells that were read by an assumption: a rough number, a word as a rating, a ditto mark, a date of two meanings."""

from __future__ import annotations

import polars as pl

_OF_A_CELL = r"(?: is|:) read as | is approximate|^repeats the cell above"
_OF_THE_SETTINGS = "as the settings say"
_OF_MANY_CELLS = r"^(\d+) dates that may be two days"


def with_assumed_cells(remarks: pl.DataFrame) -> pl.DataFrame:
    """The notes on cells that were read by an assumption, with `cells`, how many cells each is about.

    remarks : as accounting.REMARKS_SCHEMA. What the settings say is no assumption.
    """
    message = pl.col("message")
    one = pl.col("line").is_not_null() & message.str.contains(_OF_A_CELL) & ~message.str.contains(_OF_THE_SETTINGS)
    many = message.str.extract(_OF_MANY_CELLS).cast(pl.Int64)
    return (
        remarks.filter(pl.col("kind") == "note")
        .with_columns(pl.coalesce(pl.when(one).then(1), many).cast(pl.Int64).alias("cells"))
        .drop_nulls("cells")
    )
