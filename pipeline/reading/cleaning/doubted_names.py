"""Names with a question mark: their writer was not sure."""

from __future__ import annotations

from collections.abc import Collection, Mapping

import polars as pl

from draincurve.pipeline.reading.cleaning.spelling_keys import spelling_key
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable

_DOUBT = r"\?"


def doubts_about_names(
    working: WorkingTable, column: str, *, shown: Mapping[str, str], settled: Collection[str]
) -> list[pl.DataFrame]:
    """Holds back a row whose unit is in doubt; any other name with a question mark is read as the name, with a note.

    shown : the spelling shown, for each text. settled : spelling keys of names about which the settings say something
    """
    names = working.parsed.get_column(column).drop_nulls().unique()
    doubted = {
        text: shown[text] for text in names.filter(names.str.contains(_DOUBT)) if spelling_key(text) not in settled
    }
    if not doubted:
        return []
    rows = working.parsed.select("_row", pl.col(column).alias("_text")).filter(pl.col("_text").is_in(list(doubted)))
    if column == "unit_id":
        message = "is not sure: write the unit without the question mark, or delete the row"
        return [working.about_rows(rows, column, kind="held back", message=message)]
    read = pl.format("'{}' is read as '{}'", "_text", pl.col("_text").replace(doubted))
    return [working.about_rows(rows, column, kind="note", message=read)]
