"""Lines of a table that are no rows: totals, repeated headers, section titles."""

from __future__ import annotations

from typing import Any

import polars as pl

from draincurve.pipeline.reading.cleaning.headers import MatchedTable
from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.schemas.columns import TABLES

REPEATED_HEADER = "repeats the header: it is no row"
TOTAL = "is a total, not a row: nothing of it is used"
TITLE = "is a title inside the table, not a row: nothing of it is used"
NO_ROWS = (REPEATED_HEADER, TOTAL, TITLE)
"""Reasons of lines that are held back without being rows."""

FEWEST_REPEATED = 3
"""Cells of a line that must repeat their headers."""
TITLE_COLUMNS = 3
"""A title is in one of so many first columns."""

_TOTALS = (
    "total|totals|grand total|subtotal|sub total|sum|sums|average|mean|avg|count|"
    "summe|gesamt|gesamtsumme|zwischensumme|insgesamt|mittel|mittelwert|durchschnitt|anzahl|"
    "somme|sous total|total général|moyenne|nombre|suma|total general|promedio|media|"
    "totale|subtotale|somma|totale generale|Σ|∑|ø"
)
_TOTAL = rf"(?i)^\W*(?:{_TOTALS.replace(' ', '[ -]')})(?:\W|$)"
_NO_DATE = r"^\D*$|^\D*\d{4}\D*$"
"""A cell without a day: no digits at all, or a year only."""


def lines_that_are_no_rows(source: SourceTable, table: MatchedTable) -> pl.DataFrame:
    """Columns _row, text (the first cell of the line with content) and reason, one line for each.

    Only a line without a date can be one, so a unit that is called Total is a unit. A lone cell that names a unit
    which other rows have is the beginning of a row, not a title.
    """
    cells = [pl.col(name).cast(pl.String).str.strip_chars() for name in source.cell_columns]
    candidates = source.frame.with_row_index("_row").filter(_without_date(source, table))
    if not candidates.height or not cells:
        return pl.DataFrame(schema={"_row": pl.UInt32, "text": pl.String, "reason": pl.String})
    filled = [cell.str.contains(r"[\p{L}\p{N}]").fill_null(False) for cell in cells]
    same = [
        (cell.str.to_lowercase() == header.strip().lower()).fill_null(False)
        for cell, header in zip(cells, source.typed_headers, strict=True)
    ]
    found = candidates.select(
        "_row",
        pl.coalesce([pl.when(has).then(cell) for cell, has in zip(cells, filled, strict=True)]).alias("text"),
        pl.sum_horizontal(filled).alias("_filled"),
        pl.sum_horizontal(same).alias("_same"),
        pl.any_horizontal(filled[:TITLE_COLUMNS]).alias("_in_front"),
    )
    repeated = (pl.col("_same") >= FEWEST_REPEATED) & (3 * pl.col("_same") >= 2 * pl.col("_filled"))
    reason: Any = pl.when(repeated).then(pl.lit(REPEATED_HEADER))
    if _day_column(table.table) is not None:
        known = _units_of_other_rows(table, found)
        text = pl.col("text")
        number = text.str.contains(r"^[\d.,]+$") & ~text.str.contains(r"^(19|20)\d\d$")
        lone = ((pl.col("_filled") == 1) & pl.col("_in_front")) | (pl.col("_filled") == 0)
        title = (lone & ~number & ~text.is_in(known)).fill_null(True)
        reason = reason.when(text.str.contains(_TOTAL)).then(pl.lit(TOTAL)).when(title).then(pl.lit(TITLE))
    return found.select("_row", "text", reason.alias("reason")).drop_nulls("reason")


def _day_column(table: str) -> str | None:
    return next((column.name for column in TABLES[table] if column.kind == "date" and column.required), None)


def _without_date(source: SourceTable, table: MatchedTable) -> pl.Expr:
    """Whether a line has no date; in a table without dates, whether its first column repeats its header."""
    names = {column: name for name, column in table.columns.items()}
    day = _day_column(source.table)
    if day is not None and day in names:
        cell = pl.col(names[day]).cast(pl.String)
        return cell.is_null() | cell.str.contains(_NO_DATE)
    first = TABLES[source.table][0].name
    name = names.get(first, source.cell_columns[0])
    header = source.typed_headers[source.cell_columns.index(name)]
    return pl.col(name).cast(pl.String).str.strip_chars().str.to_lowercase() == header.strip().lower()


def _units_of_other_rows(table: MatchedTable, candidates: pl.DataFrame) -> pl.Series:
    """The unit's cells of all lines that have a date, as one list."""
    if "unit_id" not in table.frame.columns:
        return pl.Series([[]], dtype=pl.List(pl.String))
    others = table.frame.filter(~pl.col("_row").is_in(candidates["_row"].implode()))
    return others.get_column("unit_id").cast(pl.String).str.strip_chars().drop_nulls().unique().implode()
