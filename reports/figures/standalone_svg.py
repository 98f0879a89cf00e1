"""A picture of the page as a file of its own: colours as values, a size, and the font that it was measured with."""

from __future__ import annotations

import re

from draincurve.reports.figures.figure_style import INK, PALETTE
from draincurve.reports.figures.svg_picture import Picture

FONT_FAMILY = "DejaVu Sans"
"""matplotlib's own font, which measured every label; other programs fall back to one of theirs."""

_OPENING = re.compile(r'<svg class="picture" role="img" viewBox="0 0 ([\d.]+) ([\d.]+)"')
_TAG = re.compile(r"<[^>]+>")
_VARIABLE = re.compile(r"var\(--([a-z-]+)\)")
_NOT_IN_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_STYLE = (
    "<style>*{stroke-linejoin:round;stroke-linecap:butt}"
    f"text{{font-family:'{FONT_FAMILY}',sans-serif;fill:{INK}}}</style>"
)


def standalone_svg(picture: Picture) -> str:
    """The same drawing as an SVG file: paper colours, size in CSS pixels, no page around it needed.

    Only tags are touched, so that text from a log stays as it was typed, save for letters that no XML may hold: they
    become U+FFFD. Source: W3C, XML 1.0, section 2.2. The background is left open: it is meant for white.
    """
    svg = str(picture.svg)
    opening = _OPENING.match(svg)
    if opening is None:
        raise ValueError("not a picture of the page")
    width, height = opening[1], opening[2]
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" role="img" '
        f'viewBox="0 0 {width} {height}"'
    )
    whole = head + svg[opening.end() :]
    coloured = _TAG.sub(lambda tag: _VARIABLE.sub(lambda name: PALETTE[name[1]], tag[0]), whole)
    body = coloured.index(">") + 1
    return _NOT_IN_XML.sub("\ufffd", f"{coloured[:body]}{_STYLE}{coloured[body:]}\n")
