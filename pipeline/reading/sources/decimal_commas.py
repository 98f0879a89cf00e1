"""Rows of a comma-separated file that a decimal comma without quotation marks has shifted by one cell.

`F1,2026-03-04,12,5,3,2,` under `unit,date,hours,colour,debris,note` has as many cells as a row that ends with a
comma, and each cell after the hours is that of the column before. The cells show it, taken over the whole file.
"""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from draincurve.schemas.columns import TABLES, Column

MOSTLY = 0.5
"""Share of the rows that must fit once two cells are joined; rows with whole numbers are not shifted."""
FEWEST_OUT_OF_KIND = 0.2
"""Share of these rows in which a cell as typed is not of its column's kind. Of ten digits only five are ratings."""
_ROWS_COUNTED = 2_000
"""Rows, evenly apart, by which a file is judged."""
_WHOLE, _DECIMALS = r"^\s*\d{1,5}\s*$", r"^\s*\d{1,2}\s*$"
_RATING = r"^\s*[1-5](?:[.,]5|\s*[-/+]\s*[1-5]?)?\s*$"
_NUMBER = r"^\s*[-+]?\d+(?:[.,:]\d+)*\s*\p{L}{0,8}\s*$"
_DATE = r"\d[-/. ]+(?:\d|\p{L})"
_BARE_NUMBER = r"^\s*\d{1,2}\s*$"
_WITH_DECIMALS = ("run hours", "volume", "settling time", "reading", "viscosity")
_WORDS = ("note", "new_parts", "rider", "rated_by")
"""Columns in which a bare number says that the row is shifted, where every row ends with a comma besides."""


def shifted_rows(
    cells: pl.DataFrame, table: str, columns: Sequence[str | None], *, with_blank_end: bool
) -> pl.Series | None:
    """For each row what makes it look shifted, such as "12,5", else null; None where the file does not look shifted.

    cells : those of the header's columns. columns : the column that each header names. with_blank_end : whether
    nearly all rows have a blank cell past the header
    """
    definitions = {column.name: column for column in TABLES[table]}
    known = [definitions.get(name) if name is not None else None for name in columns]
    judged = cells.gather_every(max(1, cells.height // _ROWS_COUNTED))
    fewest = max(2, MOSTLY * judged.height)
    for position, definition in enumerate(known[:-1]):
        if definition is None or definition.kind not in _WITH_DECIMALS:
            continue
        whole, decimals = (pl.col(cells.columns[at]).fill_null("") for at in (position, position + 1))
        joined = [*range(position + 1), *range(position + 2, len(known))]
        fits = whole.str.contains(_WHOLE) & decimals.str.contains(_DECIMALS)
        if judged.select(fits.sum()).item() < fewest:
            continue
        for at, taken_from in enumerate(joined):
            if at > position:
                fits &= _is_of_kind(pl.col(cells.columns[taken_from]), known[at], strict=True)
        out = [
            ~_is_of_kind(pl.col(cells.columns[at]), known[at], strict=False) for at in range(position + 1, len(known))
        ]
        if with_blank_end or known[-1] is None:
            out += [
                pl.col(cells.columns[at]).fill_null("").str.contains(_BARE_NUMBER)
                for at in range(position + 1, len(known))
                if columns[at] in _WORDS
            ]
        counts = judged.select(fits.sum().alias("fit"), (fits & pl.any_horizontal(out)).sum().alias("out"))
        fit, out_of_kind = counts.row(0)
        if fit >= fewest and out_of_kind >= FEWEST_OUT_OF_KIND * fit:
            number = pl.concat_str(whole.str.strip_chars(), decimals.str.strip_chars(), separator=",")
            return cells.select(pl.when(fits).then(number)).to_series()
    return None


def _is_of_kind(cell: pl.Expr, column: Column | None, *, strict: bool) -> pl.Expr:
    """Whether a cell may be in a column. strict : whether an empty cell may not, where every row needs one."""
    text = cell.fill_null("")
    if column is None:
        return pl.lit(value=True)
    empty = text.str.contains(r"^\s*$")
    if column.kind == "text":
        return ~empty if strict and column.required else pl.lit(value=True)
    pattern = {"rating": _RATING, "date": _DATE, "yes/no": r"^\D*$|^\s*[01]\s*$"}.get(column.kind, _NUMBER)
    return text.str.contains(pattern) | (empty & pl.lit(not (strict and column.required)))
