"""Sheets of a workbook as text, with the sheet's own row numbers."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import fastexcel
import polars as pl

from draincurve.pipeline.reading.sources.source_table import LINE, SourceTable, digest, file_bytes, with_headers
from draincurve.schemas.errors import SourceError


def sheet_names(path: Path) -> list[str]:
    """Names of the workbook's sheets, in order."""
    return [str(name) for name in _opened(path, file_bytes(path)).sheet_names]


def read_sheet(path: Path, sheet: str, *, table: str) -> SourceTable | None:
    """One sheet, each cell as the text of its value; None for a sheet without content.

    The first row with content is the header. Rows without content are skipped and do not count as rows. Dates read
    "2026-03-04 00:00:00"; numbers are their shortest text.
    """
    content = file_bytes(path)
    try:
        # skip_rows=0 and no header keep empty rows, without which line numbers would shift
        loaded = _opened(path, content).load_sheet(sheet, header_row=None, skip_rows=0, dtypes="string")
        rows: pl.DataFrame = loaded.to_polars()
    except Exception as fault:
        raise SourceError(
            f"{path}: sheet {sheet}: cannot be read ({_one_line(fault)}); save the workbook again"
        ) from fault
    rows = rows.select(pl.all().cast(pl.String)).with_row_index(LINE, offset=1)
    cells = [name for name in rows.columns if name != LINE]
    if not cells:
        return None
    rows = rows.filter(pl.any_horizontal(pl.col(cells).str.strip_chars().fill_null("") != ""))
    if not rows.height:
        return None
    headers = [cell or "" for cell in rows.select(cells).row(0)]
    below = rows.slice(1)
    frame, kept = with_headers(below.select(cells), headers, own=below.select(pl.col(LINE).cast(pl.Int64)))
    return SourceTable(table, f"{path.name}[{sheet}]", digest(content), frame, (), kept)


def _opened(path: Path, content: bytes) -> Any:
    try:
        return fastexcel.read_excel(content)
    except Exception as fault:
        raise SourceError(
            f"{path}: not a workbook that can be opened ({_one_line(fault)}); save it again as XLSX"
        ) from fault


def _one_line(fault: Exception) -> str:
    return " ".join(str(fault).split())[:200]
