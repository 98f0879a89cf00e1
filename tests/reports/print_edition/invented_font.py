"""A font made for a test: each of its letters is the same triangle."""

from __future__ import annotations

from pathlib import Path

from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen

EM = 1000


def write_font(path: Path, letters: str, family: str) -> Path:
    """A TrueType font with a space and these letters."""
    names = {ord(letter): f"u{ord(letter):05X}" for letter in letters}
    pen = TTGlyphPen(None)
    pen.moveTo((100, 0))
    pen.lineTo((100, 800))
    pen.lineTo((900, 800))
    pen.closePath()
    triangle, nothing = pen.glyph(), TTGlyphPen(None).glyph()
    glyphs = {".notdef": nothing, "space": nothing} | dict.fromkeys(names.values(), triangle)
    font = FontBuilder(EM, isTTF=True)
    font.setupGlyphOrder(list(glyphs))
    font.setupCharacterMap({ord(" "): "space"} | names)
    font.setupGlyf(glyphs)
    font.setupHorizontalMetrics(dict.fromkeys(glyphs, (EM, 0)))
    font.setupHorizontalHeader(ascent=800, descent=-200)
    said = {"familyName": family, "fullName": family, "psName": family.replace(" ", ""), "styleName": "Regular"}
    font.setupNameTable(said | {"uniqueFontIdentifier": family, "version": "Version 1.0"})
    font.setupOS2(sTypoAscender=800, sTypoDescender=-200, usWinAscent=800, usWinDescent=200)
    font.setupPost()
    font.save(path)
    return path
