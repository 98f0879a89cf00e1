"""Text in XLSX cells: shown as it came, whatever it holds, and executed by no spreadsheet."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from io import BytesIO
from pathlib import Path
from typing import Any

import xlsxwriter

from draincurve.pipeline.atomic_file import write_atomically
from draincurve.reports.tables.csv_tables import begins_like_a_formula

LONGEST_TEXT = 32_767
"""UTF-16 code units that one cell holds. Source: Microsoft, Excel specifications and limits."""


@dataclass(frozen=True, slots=True)
class TextFormat:
    """One style of text cells in two formats: plain, and for text that would be executed once the cell is edited."""

    plain: Any
    guarded: Any


@contextmanager
def new_workbook(path: Path, *, as_of: date, title: str) -> Iterator[Any]:
    """An empty workbook to fill; the file is written whole when the block ends without an error.

    Text never becomes a formula, a link or a number, and the only date in the file is `as_of`, so that the same
    content gives the same bytes. Raises OSError where the file cannot be written.
    """
    content = BytesIO()
    as_text = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    book = xlsxwriter.Workbook(content, {**as_text, "in_memory": True})
    created = datetime(as_of.year, as_of.month, as_of.day)
    book.set_properties({"title": title, "author": "draincurve", "created": created})
    yield book
    book.close()
    write_atomically(path, content.getvalue(), mode=0o644)


def text_format(book: Any, style: dict[str, Any]) -> TextFormat:
    """The two formats of text cells with this style.

    The guarded one has the quote prefix of the file format: the cell shows no apostrophe and its value has none, but
    text that begins like a formula stays text when the cell is edited.
    """
    return TextFormat(book.add_format(style), book.add_format({**style, "quote_prefix": True}))


def write_text(sheet: Any, text: str, *, row: int, column: int, style: TextFormat) -> None:
    """Writes one cell of text; text longer than a cell holds is cut and ends in an ellipsis."""
    cell = style.guarded if begins_like_a_formula(text) else style.plain
    shown = fitted(text)
    if shown.startswith("<r>") and shown.endswith("</r>"):
        # xlsxwriter would take such a string for its own markup and write it unescaped
        sheet.write_rich_string(row, column, shown[:1], shown[1:2], shown[2:], cell)
    else:
        sheet.write_string(row, column, shown, cell)


def fitted(text: str) -> str:
    """As much of the text as one cell holds."""
    encoded = text.encode("utf-16-le", "replace")
    if len(encoded) <= 2 * LONGEST_TEXT:
        return text
    return encoded[: 2 * (LONGEST_TEXT - 1)].decode("utf-16-le", "ignore") + "…"
