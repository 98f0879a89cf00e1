"""A matplotlib figure as SVG: inside a page, small and named for screen readers; or as a file of its own."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal, cast

from markupsafe import Markup, escape
from matplotlib.backends.backend_svg import RendererSVG
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path

from draincurve.reports.figures.figure_style import INK, PALETTE, drawing_style

_HEAD = re.compile(r"<\?xml.*?\?>|<!DOCTYPE.*?>|<!--.*?-->|<metadata>.*?</metadata>", re.DOTALL)
_STYLE_SHEET = re.compile(r"<style type=\"text/css\">.*?</style>", re.DOTALL)
_OPENING = re.compile(r"<svg [^>]*?viewBox=\"0 0 ([\d.]+) ([\d.]+)\"[^>]*>", re.DOTALL)
_FONT_FAMILY = re.compile(r"; font-family: [^;\"]*|font-family: [^;\"]*; ?")
_NUMBER = re.compile(r"-?\d+\.\d{3,}")
_TAG = re.compile(r"<[^>]+>")
_IDENTITY = re.compile(r' id="([^"]+)"')
_REFERENCE = re.compile(r'url\(#([^)]+)\)|href="#([^"]+)"')
_BARE_DEFINITIONS = re.compile(r"<defs>\s*</defs>")
_GROUP_TAG = re.compile(r"</?g(?: [^>]*)?/?>")
_NO_TURN = re.compile(r' transform="rotate\(-?0 [^"]*"')
_COLOURS = {value: f"var(--{name})" for name, value in PALETTE.items()}
_COLOUR = re.compile("|".join(_COLOURS))

FONT_FAMILY = "DejaVu Sans"
"""matplotlib's own font, which measured every label; other programs fall back to one of theirs."""

_PICTURE_OPENING = re.compile(r'<svg class="picture" role="img" viewBox="0 0 ([\d.]+) ([\d.]+)"')
_VARIABLE = re.compile(r"var\(--([a-z-]+)\)")
_NOT_IN_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_STYLE = (
    "<style>*{stroke-linejoin:round;stroke-linecap:butt}"
    f"text{{font-family:'{FONT_FAMILY}',sans-serif;fill:{INK}}}</style>"
)


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture for the page; width : that it is drawn for [CSS px]; description : what it shows, in words."""

    svg: Markup
    title: str
    width: int
    description: str


def inline_picture(figure: Figure, prefix: str, *, title: str, description: str) -> Picture:
    """The figure as inline SVG: ids start with `prefix`, colours follow the page's variables."""
    drawn = _saved(figure)
    opening = _OPENING.search(drawn)
    if opening is None:
        raise ValueError("matplotlib wrote an SVG without a viewBox")
    width, height = float(opening[1]), float(opening[2])
    body = drawn[opening.end() : drawn.rindex("</svg>")]
    body = _shortened(body, prefix)
    head = (
        f'<svg class="picture" role="img" viewBox="0 0 {width:g} {height:g}" '
        f'aria-labelledby="{escape(prefix)}-t {escape(prefix)}-d">'
        f'<title id="{escape(prefix)}-t">{escape(title)}</title>'
        f'<desc id="{escape(prefix)}-d">{escape(description)}</desc>'
    )
    return Picture(Markup(f"{head}{body}</svg>"), title, round(width), description)


def standalone_svg(picture: Picture) -> str:
    """The same drawing as an SVG file of its own: paper colours, size in CSS pixels, the font it was measured with.

    Only tags are changed, so text from a log stays as it was typed, except for letters that XML does not allow: they
    become U+FFFD. Source: W3C, XML 1.0, section 2.2. The background is transparent; the colours are meant for white.
    """
    svg = str(picture.svg)
    opening = _PICTURE_OPENING.match(svg)
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


class _Renderer(RendererSVG):
    """matplotlib's renderer without the groups that only name an artist: they are half of the tags of a file."""

    def open_group(self, s: str, gid: str | None = None) -> None:
        """An artist begins: nothing is written."""

    def close_group(self, s: str) -> None:
        """An artist ends: nothing is written."""

    def get_text_width_height_descent(
        self, s: str, prop: FontProperties, ismath: bool | Literal["TeX"]
    ) -> tuple[float, float, float]:
        """Width, height and descent of a text [px]; most numbers and labels are in several pictures."""
        return _measured(s, prop, ismath)


@lru_cache(maxsize=4096)
def _measured(text: str, font: FontProperties, ismath: bool | Literal["TeX"]) -> tuple[float, float, float]:
    """The size of a text, which costs a third of drawing it; matplotlib itself keeps it for one picture only."""
    return text_to_path.get_text_width_height_descent(text, font, ismath)


def _saved(figure: Figure) -> str:
    """The figure as a whole SVG file, with nothing behind the drawing."""
    figure.dpi = 72.0
    figure.patch.set_visible(False)
    for axes in figure.axes:
        axes.patch.set_visible(False)
    buffer, renderer_class = io.StringIO(), cast(Any, _Renderer)  # it has no types
    with drawing_style():
        renderer = renderer_class(*figure.bbox.size, buffer, metadata={"Date": None, "Creator": None})
        figure.draw(renderer)
        renderer.finalize()
    return buffer.getvalue()


def _shortened(body: str, prefix: str) -> str:
    """The drawing without what a page does not need; ids are short and start with the prefix."""
    body = _STYLE_SHEET.sub("", _HEAD.sub("", body))
    referred = {first or second for first, second in _REFERENCE.findall(body)}
    names = {
        old: f"{prefix}-{index}"
        for index, old in enumerate(old for old in _IDENTITY.findall(body) if old in referred)
    }
    body = _TAG.sub(lambda tag: _shortened_tag(tag[0], names), body)
    body = re.sub(r">\s+<", "><", body)
    return _without_bare_groups(_BARE_DEFINITIONS.sub("", body)).strip()


def _without_bare_groups(body: str) -> str:
    """The drawing without groups that say nothing; what is in them stays. A page of many pictures opens sooner."""
    kept: list[bool] = []

    def tag(match: re.Match[str]) -> str:
        text = match[0]
        if text.endswith("/>"):
            return ""
        if text == "</g>":
            return text if kept.pop() else ""
        kept.append(text != "<g>")
        return text if kept[-1] else ""

    return _GROUP_TAG.sub(tag, body)


def _shortened_tag(tag: str, names: dict[str, str]) -> str:
    """One tag; text between tags is never changed, so text from a log stays as it was typed."""
    if tag.startswith("</"):
        return tag
    tag = _IDENTITY.sub(lambda match: f' id="{names[match[1]]}"' if match[1] in names else "", tag)
    tag = _REFERENCE.sub(lambda match: match[0].replace(match[1] or match[2], names[match[1] or match[2]]), tag)
    tag = tag.replace("xlink:href", "href").replace("\n", "")
    tag = _NO_TURN.sub("", _FONT_FAMILY.sub("", tag))
    tag = _COLOUR.sub(lambda match: _COLOURS[match[0]], tag)
    return _NUMBER.sub(lambda match: f"{float(match[0]):.2f}".rstrip("0").rstrip("."), tag)
