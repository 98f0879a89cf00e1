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


def whole_text(pdf: bytes) -> str:
    return "".join(page_texts(pdf))
