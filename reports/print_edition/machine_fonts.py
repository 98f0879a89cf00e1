"""Fonts of this machine for letters that the program's own fonts lack, and what no font has."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import matplotlib
from fontTools.ttLib import TTFont, TTLibError
from matplotlib.font_manager import findSystemFonts

UNPRINTED = "\ufffd"
"""Printed in place of a letter that no font has."""
_STYLED = ("bold", "black", "heavy", "light", "thin", "italic", "oblique", "condensed", "mono")
_SCRIPTS = {
    "CJK": "Chinese or Japanese characters",
    "HIRAGANA": "Japanese",
    "KATAKANA": "Japanese",
    "HANGUL": "Korean",
}
"""Scripts by the first word of a letter's Unicode name, where that is not the script's everyday name."""


@dataclass(frozen=True, slots=True)
class LetterFonts:
    """machine : fonts beside the program's own, those that are needed.  missing : letters that no font has."""

    machine: tuple[Path, ...]
    missing: frozenset[str]

    @property
    def text(self) -> str:
        """One sentence on what is not printed; empty where everything is."""
        if not self.missing:
            return ""
        scripts = sorted({_script(letter) for letter in self.missing})
        named = f"{', '.join(scripts[:-1])} and {scripts[-1]}" if len(scripts) > 1 else scripts[0]
        return f"No font on this machine has {named}: they are printed as {UNPRINTED}. report.html shows them."


def own_fonts() -> tuple[Path, ...]:
    """Fonts that come with the program, so that bytes are the same everywhere."""
    return tuple(sorted((Path(matplotlib.get_data_path()) / "fonts" / "ttf").glob("DejaVuSans*.ttf")))


def letters_of(texts: Iterable[str]) -> frozenset[str]:
    """Letters that need a glyph and are not in every font."""
    letters = {letter for text in texts if not text.isascii() for letter in text if not letter.isascii()}
    return frozenset(letter for letter in letters if not _invisible(letter))


@cache
def fonts_for(letters: frozenset[str]) -> LetterFonts:
    """The machine's fonts for letters that the program's own lack, as few as cover them.

    A letter counts as the program's own where both its plain and its bold font have it. Fonts that cannot be read are
    passed over.
    """
    missing = letters - _own_letters()
    chosen: list[Path] = []
    if missing:
        covered = {path: missing & _letters(path) for path in _machine_fonts()}
        while missing:
            best = max(covered, key=lambda path: (len(covered[path] & missing), -_rank(path)), default=None)
            if best is None or not covered[best] & missing:
                break
            chosen.append(best)
            missing -= covered[best]
    return LetterFonts(tuple(chosen), frozenset(missing))


def _invisible(letter: str) -> bool:
    """Marks without a glyph: spaces, format characters, variation selectors, and the replacement character."""
    return letter == UNPRINTED or unicodedata.category(letter) in ("Cf", "Zs", "Cc") or "\ufe00" <= letter <= "\ufe0f"


def _rank(path: Path) -> int:
    """Plain fonts before those of a style."""
    return sum(style in path.name.casefold() for style in _STYLED)


@cache
def _own_letters() -> frozenset[str]:
    plain, bold = (_letters(path) for path in own_fonts() if path.name in ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf"))
    return plain & bold


def _machine_fonts() -> tuple[Path, ...]:
    """Fonts that are installed, in an order that depends on their names alone."""
    return tuple(sorted({Path(name) for name in findSystemFonts()}))


def _letters(path: Path) -> frozenset[str]:
    """Letters that a font has; of a collection, its first font. None of a font that cannot be read."""
    try:
        with path.open("rb") as file, TTFont(file, fontNumber=0, lazy=True) as font:
            return frozenset(map(chr, font.getBestCmap() or ()))
    except (OSError, TTLibError, ValueError, KeyError, AssertionError):
        return frozenset()


def _script(letter: str) -> str:
    """The script of a letter in everyday words, or symbols."""
    first = unicodedata.name(letter, "").partition(" ")[0]
    if not first or not unicodedata.category(letter).startswith(("L", "M")):
        return "some symbols"
    return _SCRIPTS.get(first, first.capitalize())
