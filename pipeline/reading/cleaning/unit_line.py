"""A second line of a header, which holds the unit, the scale or the form of dates of each column."""

from __future__ import annotations

import re

from draincurve.pipeline.reading.cleaning.header_meaning import GivenHeaders, match_header
from draincurve.pipeline.reading.cleaning.units_of_measurement import is_unit, squashed_unit
from draincurve.pipeline.reading.sources.source_table import SourceTable

FEWEST = 2
"""Cells of such a line at least that are units of their column, scales or forms of dates."""
_OTHER = re.compile(r"n/?mm|n|kg/?mm|text|name|no\.?|nr\.?|id|yes/no|ja/nein|free text", re.IGNORECASE)
_SCALE = re.compile(r"\d\s*(?:-|–|to|bis|\.\.+)\s*\d{1,2}")
_DATE = re.compile(r"[dtgmyaj]{1,4}[./\- ]+[dtgmyaj]{1,4}[./\- ]+[dtgmyaj]{1,4}", re.IGNORECASE)


def headers_with_units(source: SourceTable, given: GivenHeaders | None = None) -> tuple[str, ...] | None:
    """The headers with what such a line says in brackets behind each; None where the first row is none.

    given : the settings' headers
    """
    headers = source.typed_headers
    if source.frame.is_empty():
        return None
    cells = [
        str(cell or "").strip().strip("()[]").strip() for cell in source.frame.select(source.cell_columns).row(0)
    ]
    told = sum(map(_says_a_form, cells))
    if told < FEWEST or not all(not cell or _says_a_form(cell) or _OTHER.fullmatch(cell) for cell in cells):
        return None
    return tuple(_joined(header, cell, source.table, given) for header, cell in zip(headers, cells, strict=True))


def _says_a_form(cell: str) -> bool:
    unit = is_unit(cell) and not cell.isdigit() and squashed_unit(cell) != ""
    return unit or _SCALE.fullmatch(cell) is not None or _DATE.fullmatch(cell) is not None


def _joined(header: str, cell: str, table: str, given: GivenHeaders | None) -> str:
    """A header with a cell behind it, where it still means the same column and names no unit itself."""
    match, longer = match_header(header, table, given), f"{header} ({cell})"
    joined = match_header(longer, table, given) if cell and match is not None and match.unit is None else None
    return longer if joined is not None and match is not None and joined.columns == match.columns else header
