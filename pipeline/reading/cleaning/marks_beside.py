"""Marks that people leave beside a value: quotation marks, a footnote's star or number, a smiley."""

from __future__ import annotations

import re

LONGEST = 120
"""A longer text is no value with a mark beside it [characters]."""

_SAYS_SOMETHING = r"\w+\-–−?.,:/<>≤≥~≈=()%½¼¾"
_FOOTNOTE = "¹²³⁴⁵⁶⁷⁸⁹⁰ªº"
_BESIDE = re.compile(rf"^(?:[^{_SAYS_SOMETHING}]|[{_FOOTNOTE}])+|(?:[^{_SAYS_SOMETHING}]|[{_FOOTNOTE}])+$")


def without_marks(text: str) -> str:
    """A text without such marks before and behind it.

    >>> without_marks("12.5*"), without_marks("'3 \U0001f62c"), without_marks("-3.5¹"), without_marks("2+")
    ('12.5', '3', '-3.5', '2+')
    """
    return _BESIDE.sub("", text) if len(text) <= LONGEST else text
