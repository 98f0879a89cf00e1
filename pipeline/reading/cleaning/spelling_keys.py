"""What makes two spellings one name."""

from __future__ import annotations

import re
import unicodedata

_MARKS = re.compile(r"[\W_]+")
_MARKS_BESIDE_LETTERS = re.compile(r"(?<=[a-z])[\W_]+|[\W_]++(?=[a-z])")
"""Most marks: they are dropped at once, without a look at what is beside each."""
_SIGNED = re.compile(r"(?:^|\s)[-\u2212.,]\d|\+\s*\+")
"""A minus or a point before a number, which begins it: "-2", ".46"; or several plus signs."""

_TWO_LETTERS = re.compile("([aou])e")
"""How a vowel with two dots is typed where the keyboard has none."""


def plain_letters(text: str) -> str:
    """The text as it is typed without accents: Müller, Mueller and Muller are one word."""
    letters = unicodedata.normalize("NFD", text)
    return _TWO_LETTERS.sub(r"\1", "".join(mark for mark in letters if not unicodedata.combining(mark)))


def spelling_key(text: str) -> str:
    """A name without case, spaces and punctuation: equal for spellings of one name.

    Digits of another script are those of this one. A mark between two digits is kept ("2.5W" is not "25W", "7-1" is
    not "71"), and so are plus signs, and a minus or a point with which a number begins ("-2" is not "2").
    """
    folded = text.lower() if text.isascii() else _folded(text)
    if folded.isalnum():
        return folded
    if "+" not in folded and not _SIGNED.search(folded):
        folded = _MARKS_BESIDE_LETTERS.sub("", folded)
        if folded.isalnum():
            return folded

    def kept(match: re.Match[str]) -> str:
        before, after = folded[match.start() - 1 : match.start()], folded[match.end() : match.end() + 1]
        marks = match.group()
        if "+" in marks:
            return "+" * marks.count("+")
        if before.isdigit() and after.isdigit():
            return "." if marks in (".", ",") else "_"
        if after.isdigit() and _SIGNED.search(marks + after):
            return "." if marks[-1] in ".," else "-"
        return ""

    return _MARKS.sub(kept, folded) or folded


def _folded(text: str) -> str:
    folded = unicodedata.normalize("NFKC", text).casefold()
    return "".join(str(unicodedata.decimal(mark)) if mark.isdecimal() else mark for mark in folded)
