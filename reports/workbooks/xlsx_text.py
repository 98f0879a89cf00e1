"""Text into XLSX cells: shown as it came, whatever it holds, and run by no spreadsheet."""

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
"""UTF-16 units that one cell holds. Source: Microsoft, Excel specifications and limits."""


@dataclass(frozen=True, slots=True)
class TextFormat:
    """One look of a text cell, twice: plain, and for text that would run once somebody edits the cell."""

    plain: Any
    guarded: Any


@contextmanager
def new_workbook(path: Path, as_of: date, title: str) -> Iterator[Any]:
    """An empty workbook to fill; the file is written whole once the block has ended without an error.

    It never takes text for a formula, a link or a number, and its bytes know no other day than `as_of`. Raises
    OSError where the file cannot be written.
    """
    content = BytesIO()
    as_text = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    book = xlsxwriter.Workbook(content, {**as_text, "in_memory": True})
    created = datetime(as_of.year, as_of.month, as_of.day)
    book.set_properties({"title": title, "author": "draincurve", "created": created})
    yield book
    book.close()
    write_atomically(path, content.getvalue(), mode=0o644)


def text_format(book: Any, look: dict[str, Any]) -> TextFormat:
    """The two formats of a text cell with this look.

    The guarded one carries the file format's own quote mark: the cell shows no apostrophe and its value has none,
    but text that begins like a formula stays text when the cell is edited.
    """
    return TextFormat(book.add_format(look), book.add_format({**look, "quote_prefix": True}))


def write_text(sheet: Any, row: int, column: int, text: str, look: TextFormat) -> None:
    """One cell of text; text longer than a cell holds is cut, and an ellipsis shows it."""
    cell = look.guarded if begins_like_a_formula(text) else look.plain
    shown = fitted(text)
    if shown.startswith("<r>") and shown.endswith("</r>"):
        # xlsxwriter takes such a string for markup of its own and would write it unescaped
        sheet.write_rich_string(row, column, shown[:1], shown[1:2], shown[2:], cell)
    else:
        sheet.write_string(row, column, shown, cell)


def fitted(text: str) -> str:
    """The text as far as one cell holds it."""
    encoded = text.encode("utf-16-le", "replace")
    if len(encoded) <= 2 * LONGEST_TEXT:
        return text
    return encoded[: 2 * (LONGEST_TEXT - 1)].decode("utf-16-le", "ignore") + "…"
