"""A matplotlib figure as SVG inside a page: small, named for screen readers, the same bytes every time."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass

from markupsafe import Markup, escape
from matplotlib.figure import Figure

from draincurve.reports.figures.figure_style import PALETTE, drawing_style

_HEAD = re.compile(r"<\?xml.*?\?>|<!DOCTYPE.*?>|<!--.*?-->|<metadata>.*?</metadata>", re.DOTALL)
_STYLE_SHEET = re.compile(r"<style type=\"text/css\">.*?</style>", re.DOTALL)
_OPENING = re.compile(r"<svg [^>]*?viewBox=\"0 0 ([\d.]+) ([\d.]+)\"[^>]*>", re.DOTALL)
_BACKGROUND = re.compile(r'<g id="patch_1">\s*<path d="[^"]*" style="fill: none"/>\s*</g>')
_FONT_FAMILY = re.compile(r"; font-family: [^;\"]*|font-family: [^;\"]*; ?")
_NUMBER = re.compile(r"-?\d+\.\d{3,}")
_TAG = re.compile(r"<[^>]+>")
_IDENTITY = re.compile(r' id="([^"]+)"')
_REFERENCE = re.compile(r'url\(#([^)]+)\)|href="#([^"]+)"')
_BARE_GROUP = re.compile(r"<g>\s*</g>|<defs>\s*</defs>")
_COLOURS = {value: f"var(--{name})" for name, value in PALETTE.items()}
_COLOUR = re.compile("|".join(_COLOURS))


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture ready for the page; `width` is the one it is drawn for [CSS px]; `description` says it in words."""

    svg: Markup
    title: str
    width: int
    description: str


def inline_picture(figure: Figure, prefix: str, title: str, description: str) -> Picture:
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


def _saved(figure: Figure) -> str:
    buffer = io.StringIO()
    with drawing_style():
        figure.savefig(buffer, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    return buffer.getvalue()


def _shortened(body: str, prefix: str) -> str:
    """The drawing without what a page does not need, with short ids of its own."""
    body = _STYLE_SHEET.sub("", _HEAD.sub("", body))
    body = _BACKGROUND.sub("", body)
    referred = {first or second for first, second in _REFERENCE.findall(body)}
    names = {
        old: f"{prefix}-{place}"
        for place, old in enumerate(old for old in _IDENTITY.findall(body) if old in referred)
    }
    body = _TAG.sub(lambda tag: _shortened_tag(tag[0], names), body)
    body = re.sub(r">\s+<", "><", body)
    while (emptied := _BARE_GROUP.sub("", body)) != body:
        body = emptied
    return body.strip()


def _shortened_tag(tag: str, names: dict[str, str]) -> str:
    """One tag; text between tags is never touched, so what a log says stays as it was typed."""
    if tag.startswith("</"):
        return tag
    tag = _IDENTITY.sub(lambda found: f' id="{names[found[1]]}"' if found[1] in names else "", tag)
    tag = _REFERENCE.sub(lambda found: found[0].replace(found[1] or found[2], names[found[1] or found[2]]), tag)
    tag = tag.replace("xlink:href", "href").replace("\n", "")
    tag = _FONT_FAMILY.sub("", tag)
    tag = _COLOUR.sub(lambda found: _COLOURS[found[0]], tag)
    return _NUMBER.sub(lambda found: f"{float(found[0]):.2f}".rstrip("0").rstrip("."), tag)
