"""Text from files as it is shown to a person: nothing in it acts on a terminal or hides."""

from __future__ import annotations

import re

_HIDDEN = re.compile(
    "[\x00-\x1f\x7f-\x9f\xad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f"
    "\u3164\ud800-\udfff\ufe00-\ufe0e\ufeff\uffa0\ufff9-\ufffb\U0001d173-\U0001d17a\U000e0000-\U000e0fff]"
)
"""All but the two joiners (U+200C and U+200D), which some scripts need inside words."""


def shown(text: str) -> str:
    r"""The text with every control character, direction mark and other invisible character as `\uXXXX`.

    The escapes are those of JSON, so that a line of JSON stays one. Line ends are escaped, too: give single lines.
    """
    return _HIDDEN.sub(_escaped, text)


def _escaped(hidden: re.Match[str]) -> str:
    units = hidden[0].encode("utf-16-be", "surrogatepass").hex()
    return "".join(f"\\u{units[start : start + 4]}" for start in range(0, len(units), 4))
