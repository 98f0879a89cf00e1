"""What makes two spellings one name."""

from __future__ import annotations

import re
import unicodedata

_MARKS = re.compile(r"[\W_]+")
_MARKS_BESIDE_LETTERS = re.compile(r"(?<=[a-z])[\W_]+|[\W_]++(?=[a-z])")
"""Most marks: they are dropped at once, without a look at what is beside each."""


def spelling_key(text: str) -> str:
    """A name without case, spaces and punctuation: equal for spellings of one name.

    Digits of another script are those of this one. A mark between two digits is kept ("2.5W" is not "25W", "7-1" is
    not "71"), and so is a plus sign.
    """
    folded = text.lower() if text.isascii() else _folded(text)
    if folded.isalnum():
        return folded
    if "+" not in folded:
        folded = _MARKS_BESIDE_LETTERS.sub("", folded)

    def kept(match: re.Match[str]) -> str:
        before, after = folded[match.start() - 1 : match.start()], folded[match.end() : match.end() + 1]
        if "+" in match.group():
            return "+"
        if before.isdigit() and after.isdigit():
            return "." if match.group() in (".", ",") else "_"
        return ""

    return _MARKS.sub(kept, folded) or folded


def _folded(text: str) -> str:
    folded = unicodedata.normalize("NFKC", text).casefold()
    return "".join(str(unicodedata.decimal(mark)) if mark.isdecimal() else mark for mark in folded)
