"""What a reader of a PDF finds, by a library that knows nothing of the templates."""

from __future__ import annotations

import io
import re
from functools import cache

from pypdf import PdfReader

UNSEEN = re.compile(r"[\s\u200b\u2066-\u2069\u00ad]+")


def squeezed(text: str) -> str:
    """Text without spaces, line ends and marks that nobody sees, since lines may break anywhere."""
    return UNSEEN.sub("", text)


@cache
def page_texts(pdf: bytes) -> tuple[str, ...]:
    return tuple(squeezed(page.extract_text()) for page in PdfReader(io.BytesIO(pdf)).pages)


def whole_text(pdf: bytes) -> str:
    return "".join(page_texts(pdf))
