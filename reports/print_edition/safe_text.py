"""Text of a log made safe to print: nothing hidden in it, and nothing that runs off the paper."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import fields, is_dataclass
from typing import Any

from markupsafe import Markup

from draincurve.reports.figures.svg_picture import Picture

UNREADABLE = "\ufffd"
LONGEST_RUN = 16
"""Letters without a space before a line may break inside them, as in an id or a digest."""
LONGEST_TEXT = 1500
"""Letters of one text outside the appendix, where a text must fit on one page."""

_SPACE = re.compile(r"[\t\n\r\x0b\x0c\x85\u2028\u2029]+")
_HIDDEN = re.compile("[\x00-\x08\x0e-\x1f\x7f-\x84\x86-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufff9-\ufffb]")
_PERCENT = re.compile(r"(?<=\d) %")
_LONG_RUN = re.compile(rf"[^\s\u200b]{{{LONGEST_RUN + 1},}}")
_PIECE = re.compile(r".{1,8}", re.DOTALL)
_STRONG = ("L", "R", "AL")
_BREAK, _ISOLATE, _END_ISOLATE = "\u200b", "\u2068", "\u2069"


def safe_text(text: str) -> str:
    """One line of text: control characters, lone surrogates and marks that change the direction become U+FFFD.

    Two marks are for the templates, which print neither: U+200B where a long run may break, and U+2068 and U+2069
    around text that runs from right to left, so that it does not turn the text beside it. Source: Unicode
    Standard Annex 9, sections 2.4 and 3.3.1 (isolates; the first strong letter gives the direction).
    """
    line = _PERCENT.sub("\u00a0%", _HIDDEN.sub(UNREADABLE, _SPACE.sub(" ", text.replace(_BREAK, ""))))
    line = _LONG_RUN.sub(lambda run: _BREAK.join(_PIECE.findall(run[0])), line)
    return f"{_ISOLATE}{line}{_END_ISOLATE}" if _runs_right_to_left(line) else line


def _runs_right_to_left(line: str) -> bool:
    if line.isascii():
        return False
    kinds = (unicodedata.bidirectional(letter) for letter in line)
    return next((kind for kind in kinds if kind in _STRONG), "L") != "L"


def unbroken(text: str) -> str:
    """The same text without the marks for the templates, for a title or a bookmark."""
    return text.replace(_BREAK, "").removeprefix(_ISOLATE).removesuffix(_END_ISOLATE)


def clipped(text: str, longest: int) -> str:
    """Text of at most this length; longer text is cut and ends in the number of letters left out."""
    left_out = len(text) - longest
    return text if left_out <= 0 else f"{text[:longest]} … ({left_out} letters more)"


def plain_values(value: Any, pictures: dict[str, Picture], *, longest: int | None = LONGEST_TEXT) -> Any:
    """Dataclasses as dictionaries, tuples as lists, text made safe; a picture becomes its key in `pictures`.

    longest : letters of one text, None for no limit. Raises TypeError for a value of any other kind, so that nothing
    is printed in a form that nobody chose.
    """
    if isinstance(value, Picture):
        key = f"picture-{len(pictures)}"
        pictures[key] = value
        return key
    if value is None or isinstance(value, bool | int | float):
        return value
    if isinstance(value, str) and not isinstance(value, Markup):
        return safe_text(value if longest is None else clipped(value, longest))
    if isinstance(value, list | tuple):
        return [plain_values(item, pictures, longest=longest) for item in value]
    if isinstance(value, dict):
        return {name: plain_values(item, pictures, longest=longest) for name, item in value.items()}
    if is_dataclass(value) and not isinstance(value, type):
        return {
            item.name: plain_values(getattr(value, item.name), pictures, longest=longest) for item in fields(value)
        }
    raise TypeError(f"{type(value).__name__} has no form in print")
