"""What a reader of a PDF finds, by a library that knows nothing of the templates."""

from __future__ import annotations

import re
from functools import cache

from pypdfium2 import PdfDocument

UNSEEN = re.compile(r"[\s\u200b\u2066-\u2069\u00ad]+")


def squeezed(text: str) -> str:
    """Text without spaces, line ends and marks that nobody sees, since lines may break anywhere."""
    return UNSEEN.sub("", text)


@cache
def copied_pages(pdf: bytes) -> tuple[str, ...]:
    """The text of each page as a person copies it."""
    with PdfDocument(pdf) as document:
        return tuple(page.get_textpage().get_text_range() for page in document)


@cache
def page_texts(pdf: bytes) -> tuple[str, ...]:
    """The text of each page, squeezed."""
    return tuple(squeezed(page) for page in copied_pages(pdf))


def filled_shares(pdf: bytes, *, top_mm: float, bottom_mm: float) -> list[float]:
    """How far down the text area each page has something on it, as a share of that area's height.

    top_mm, bottom_mm : margins [mm]
    """
    shares = []
    with PdfDocument(pdf) as document:
        for page in document:
            top, bottom = page.get_height() - top_mm / 25.4 * 72, bottom_mm / 25.4 * 72
            lowest = [part.get_bounds()[1] for part in page.get_objects()]
            shares.append((top - min((low for low in lowest if low > bottom - 1.0), default=top)) / (top - bottom))
    return shares


def whole_text(pdf: bytes) -> str:
    return "".join(page_texts(pdf))
