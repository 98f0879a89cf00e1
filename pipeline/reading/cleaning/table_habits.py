"""What people do with a table besides typing: a name stands for the rows below it, and colours have a legend."""

from __future__ import annotations

import re

import polars as pl

from draincurve.pipeline.reading.cleaning.headers import MatchedTable
from draincurve.pipeline.reading.cleaning.row_kinds import TITLE
from draincurve.pipeline.reading.cleaning.working_table import file_finding
from draincurve.pipeline.reading.sources.source_table import SourceTable

FEWEST_ROWS, LEAST_SHARE = 6, 0.5
"""Rows of a file, and the share of them without a name, from which it may stand for the rows below it."""
_BELOW = ("unit_id", "oil_grade", "spring_type", "rider")
"""Columns that every row needs."""
_COLOURS = (
    "red|orange|yellow|green|blue|grey|gray|pink|purple|rot|gelb|grün|blau|grau|rouge|jaune|vert|bleu|gris|rojo|amarillo"
    "|verde|azul|rosso|giallo|blu|grigio"
)
_LEGEND = re.compile(
    rf"\b(?:{_COLOURS})\b(?: (?:rows?|cells?|zeilen?|lignes?|filas?|righe))?\s*(?:=|:|means|heißt|bedeutet)",
    re.IGNORECASE,
)


def names_for_rows_below(table: MatchedTable, no_rows: pl.DataFrame) -> list[pl.DataFrame]:
    """A question about each column of which most cells are blank below a name.

    no_rows : lines that are no rows, by `_row`
    """
    if table.table != "drains":
        return []
    rows = table.frame.filter(~pl.col("_row").is_in(no_rows["_row"].implode()))
    findings = []
    for column in _BELOW:
        if column not in rows.columns or rows.height < FEWEST_ROWS:
            continue
        blank = rows[column].cast(pl.String).str.strip_chars().fill_null("") == ""
        count = int(blank.sum())
        if count >= LEAST_SHARE * rows.height and not blank[0]:
            message = (
                f"is empty in {count} of {rows.height} rows: does a name stand for the rows below it? Fill the cells "
                "down, or write a ditto mark in each"
            )
            findings.append(file_finding(column, None, kind="asked", message=message))
    return findings


def colours_with_legend(source: SourceTable, no_rows: pl.DataFrame) -> list[pl.DataFrame]:
    """A question about a line that says what colours mean: no colour is read."""
    titles = [text for line in source.beside if not line.hidden for _, text in line.cells]
    texts = [*titles, *no_rows.filter(pl.col("reason") == TITLE)["text"].drop_nulls()]
    legends = list(dict.fromkeys(text for text in texts if _LEGEND.search(text)))
    message = "says what colours mean, and none is read: write it into the cells, such as yes under leak"
    return [file_finding(None, text, kind="asked", message=message) for text in legends]
