"""Lines of a table that are no rows: totals, repeated headers, section titles."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

import polars as pl

from draincurve.pipeline.reading.cleaning.header_meaning import GivenHeaders, match_header
from draincurve.pipeline.reading.cleaning.headers import MatchedTable
from draincurve.pipeline.reading.sources.csv_start import SEPARATORS
from draincurve.pipeline.reading.sources.source_table import FAULT, LINE, SURPLUS, SourceTable
from draincurve.schemas.columns import TABLES

REPEATED_HEADER = "repeats the header: it is no row"
OTHER_HEADER = "is a header that differs from the table's: the rows below it are held back"
BELOW_OTHER_HEADER = (
    "is below a header that differs from the table's (line {}): put this part into a table or sheet of its own"
)
TOTAL = "is a total, not a row: nothing of it is used"
TITLE = "is a title inside the table, not a row: nothing of it is used"
UNIT_LINE = "is a second line of the header, with units: they are read with it, and it is no row"
WHOLE_ROW = "is a whole row in one cell, with {} between its parts: put each part under its heading"
UNIT_TITLE = "names the unit of the rows below it: it is a title, and no row"
NO_ROWS = (REPEATED_HEADER, OTHER_HEADER, TOTAL, TITLE, UNIT_LINE, UNIT_TITLE)
"""Reasons of lines that are held back without being rows."""

FEWEST_REPEATED = 3
"""Cells of a line that must repeat their headers."""
TITLE_COLUMNS = 3
"""A title is in one of so many first columns."""
LONGEST_TITLE = 200
"""Characters of a title at most."""
FEWEST_PARTS = 4
"""Parts of a lone cell, from which it may be a whole row; they must be half as many as the columns as well."""
_OF_WIDTH = "the row has "
"""How a reader's fault begins that a title has as well, as it fills fewer cells than a row."""

TOTALS = (
    "total|totals|grand total|subtotal|sub total|sum|sums|average|mean|avg|count|"
    "summe|gesamt|gesamtsumme|zwischensumme|insgesamt|mittel|mittelwert|durchschnitt|anzahl|"
    "somme|sous total|total général|moyenne|nombre|suma|total general|promedio|media|"
    "totale|subtotale|somma|totale generale|Σ|∑|ø"
)
_COUNTED = (
    "(?:number of |no of |all )?(?:drains|oil changes|services|entries|rows)|ölwechsel|vidanges|cambios|cambi olio"
)
_TOTAL = rf"(?i)^\W*(?:(?:{TOTALS.replace(' ', '[ -]')})(?:\W|$)|(?:{_COUNTED})\W*$)"
_NO_DATE = r"^\D*$|^\D*\d{4}\D*$"
"""A cell without a day: no digits at all, or a year only."""


def lines_that_are_no_rows(
    source: SourceTable, table: MatchedTable, given: GivenHeaders | None = None, *, unit_titles: Sequence[int] = ()
) -> pl.DataFrame:
    """Columns _row, text (the first cell of the line with content) and reason, one line for each.

    Rows below a header that differs from the table's are among them, up to the next header that equals it.
    given : the settings' headers. unit_titles : rows that are titles, and name the unit of the rows below

    Only a line without a date can be one; of units that are called Total see names_of_no_unit. A lone cell that names
    a unit which other rows have is the beginning of a row, not a title. A row that is in one cell as a whole, since
    other separators part its cells, is among them too; its reason is none of NO_ROWS.
    """
    cells = [pl.col(name).cast(pl.String).str.strip_chars() for name in source.cell_columns]
    unit_line = (pl.col("_row") == 0) & table.has_unit_line
    unit_title = pl.col("_row").is_in(unit_titles)
    candidates = source.frame.with_row_index("_row").filter(_without_date(source, table) | unit_line | unit_title)
    if not candidates.height or not cells:
        return pl.DataFrame(schema={"_row": pl.UInt32, "text": pl.String, "reason": pl.String})
    filled = [cell.str.contains(r"[\p{L}\p{N}]").fill_null(False) for cell in cells]
    same = [
        (cell.str.to_lowercase() == header.strip().lower()).fill_null(False)
        for cell, header in zip(cells, source.typed_headers, strict=True)
    ]
    described = candidates.select(
        "_row",
        pl.coalesce([pl.when(has).then(cell) for cell, has in zip(cells, filled, strict=True)]).alias("text"),
        pl.sum_horizontal(filled).alias("_filled"),
        pl.sum_horizontal(same).alias("_same"),
        pl.any_horizontal(filled[:TITLE_COLUMNS]).alias("_in_front"),
        pl.all_horizontal(cell.str.contains(r"^\D*$").fill_null(True) for cell in cells).alias("_no_digits"),
        (_damaged() if FAULT in candidates.columns else pl.lit(False)).alias("_damaged"),
    )
    repeated = (pl.col("_same") >= FEWEST_REPEATED) & (3 * pl.col("_same") >= 2 * pl.col("_filled"))
    likely = described.filter(repeated | (pl.col("_no_digits") & (pl.col("_filled") >= FEWEST_REPEATED)))
    headers = _headers_inside(source, likely.get_column("_row").to_list(), given)
    equal, differing = ([row for row, equals in headers.items() if equals is wanted] for wanted in (True, False))
    reason: Any = pl.when(pl.col("_row").is_in(equal)).then(pl.lit(REPEATED_HEADER))
    reason = reason.when(pl.col("_row").is_in(differing)).then(pl.lit(OTHER_HEADER))
    reason = reason.when(unit_line).then(pl.lit(UNIT_LINE))
    reason = reason.when(unit_title).then(pl.lit(UNIT_TITLE))
    if _day_column(table.table) is not None:
        known = _units_of_other_rows(table, described)
        text = pl.col("text")
        number = text.str.contains(r"^[\d.,]+$") & ~text.str.contains(r"^(19|20)\d\d$")
        lone = ((pl.col("_filled") == 1) & pl.col("_in_front")) | (pl.col("_filled") == 0)
        short = (text.str.len_chars() <= LONGEST_TITLE).fill_null(True) & ~pl.col("_damaged")
        title = (lone & ~number & ~text.is_in(known)).fill_null(True) & short
        separators = pl.when(pl.col("_filled") == 1).then(_separators(text, len(cells)))
        reason = reason.when(text.str.contains(_TOTAL)).then(pl.lit(TOTAL))
        reason = reason.when(separators.is_not_null()).then(pl.format(WHOLE_ROW, separators))
        reason = reason.when(title).then(pl.lit(TITLE))
    no_rows = described.select("_row", "text", reason.alias("reason")).drop_nulls("reason")
    if not differing:
        return no_rows
    below = _below_other_headers(source, headers).join(no_rows, on="_row", how="anti")
    return pl.concat([no_rows, below]).sort("_row")


def _damaged() -> pl.Expr:
    """Whether the reader found more wrong with a line than its number of cells."""
    return (~pl.col(FAULT).str.starts_with(_OF_WIDTH)).fill_null(False)


def _separators(text: pl.Expr, width: int) -> pl.Expr:
    """The name of what parts a text with digits into as many parts as a row may have, the commonest; else null."""
    parts = {mark: text.str.count_matches(mark, literal=True) + 1 for mark in SEPARATORS}
    most = pl.max_horizontal(parts.values())
    enough = (most >= FEWEST_PARTS) & (2 * most >= width) & text.str.contains(r"\d")
    named = [pl.when(enough & (count == most)).then(pl.lit(SEPARATORS[mark])) for mark, count in parts.items()]
    return pl.coalesce(named)


def _headers_inside(source: SourceTable, rows: Sequence[int], given: GivenHeaders | None) -> dict[int, bool]:
    """Whether each header among the given rows equals the table's, by row; rows that are no headers are left out.

    A header in other words is equal if each cell means the column, the unit and the order of dates of the one above.
    """
    header_meanings = [_meaning(header, source.table, given) for header in source.typed_headers]
    surplus = [SURPLUS] if SURPLUS in source.frame.columns else []
    headers: dict[int, bool] = {}
    for row in rows:
        typed = source.frame.select(*source.cell_columns, *surplus).row(row)
        meant = [None if cell is None else _meaning(str(cell), source.table, given) for cell in typed]
        filled = [(position, meaning) for position, meaning in enumerate(meant) if meaning not in (None, "")]
        known = sum(meaning in header_meanings or not isinstance(meaning, str) for _, meaning in filled)
        enough = min(FEWEST_REPEATED, len(filled) - 1)
        if known >= enough and 3 * known >= 2 * len(filled):
            headers[row] = all(
                position < len(header_meanings) and meaning == header_meanings[position]
                for position, meaning in filled
            )
    return headers


def _meaning(header: str, table: str, given: GivenHeaders | None) -> str | tuple[object, ...]:
    """What a header means, or its words where that is not known."""
    match = match_header(header, table, given)
    return (
        re.sub(r"[\W_]+", " ", header).strip().lower()
        if match is None
        else (*match.columns, match.unit, match.date_order)
    )


def _below_other_headers(source: SourceTable, headers: Mapping[int, bool]) -> pl.DataFrame:
    """Rows below a header that differs from the table's, as `lines_that_are_no_rows` gives them."""
    lines = source.frame.get_column(LINE)
    ends = [*sorted(headers), lines.len()]
    return pl.DataFrame(
        [
            (row, None, BELOW_OTHER_HEADER.format(lines[start]))
            for start, end in pairwise(ends)
            if not headers[start]
            for row in range(start + 1, end)
        ],
        schema={"_row": pl.UInt32, "text": pl.String, "reason": pl.String},
        orient="row",
    )


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
