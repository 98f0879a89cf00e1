"""Cell formats of the entry workbook; what must be filled in is bold and hatched, not marked by colour alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from draincurve.reports.workbooks.xlsx_text import TextFormat, text_format

_LINE = "#B9B7AE"
_PALE = "#F4F2EA"
_HEADING = "#DEDBD0"
_LIGHT_HATCH = 14


@dataclass(frozen=True, slots=True)
class Styles:
    """Formats of one workbook. Text cells keep what is typed: 007, 2-3 and =1+1 stay as they are."""

    heading: Any
    needed_heading: Any
    cells: dict[str, Any]
    missing: Any
    title: TextFormat
    strong: TextFormat
    body: TextFormat
    entry: TextFormat


def entry_styles(book: Any) -> Styles:
    """The formats, added to an open workbook."""
    boxed = {"border": 1, "border_color": _LINE, "bg_color": _PALE, "align": "left"}
    heading = {"border": 1, "border_color": _LINE, "bg_color": _HEADING, "text_wrap": True, "valign": "top"}
    return Styles(
        heading=book.add_format(heading),
        needed_heading=book.add_format({**heading, "bold": True}),
        cells={
            "date": book.add_format({**boxed, "num_format": "yyyy-mm-dd"}),
            "number": book.add_format(boxed),
            "text": book.add_format({**boxed, "num_format": "@"}),
        },
        missing=book.add_format({"pattern": _LIGHT_HATCH, "bg_color": _PALE, "fg_color": "#7A3B00"}),
        title=text_format(book, {"bold": True, "font_size": 14}),
        strong=text_format(book, {"bold": True, "text_wrap": True, "valign": "top", "bottom": 1}),
        body=text_format(book, {"text_wrap": True, "valign": "top"}),
        entry=text_format(book, {**boxed, "num_format": "@"}),
    )
