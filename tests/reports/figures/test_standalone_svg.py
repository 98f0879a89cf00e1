"""A picture as a file of its own: colours, size and font are in it, and the log's text is as typed."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree

import pytest
from markupsafe import Markup
from matplotlib.figure import Figure

from draincurve.reports.figures.figure_style import PETROL, Margins, axes_at, drawing_style, plain, resize
from draincurve.reports.figures.svg_picture import Picture, inline_picture, standalone_svg

SVG = "{http://www.w3.org/2000/svg}"


def picture(text: str) -> Picture:
    figure = Figure()
    resize(figure, width=200.0, height=120.0)
    with drawing_style():
        axes = axes_at(figure, Margins(20.0, 10.0, 10.0, 20.0))
        axes.plot([0.0, 1.0], [0.0, 1.0], "o", color=PETROL)
        axes.text(0.5, 0.5, plain(text))
    return inline_picture(figure, "one", title=f"About {text}", description=f"What {text} shows")


def test_it_needs_no_page_around_it() -> None:
    svg = standalone_svg(picture("F01"))
    root = ElementTree.fromstring(svg)
    assert root.tag == f"{SVG}svg"
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("200", "120", "0 0 200 120")
    assert "var(" not in svg
    assert PETROL in svg
    assert "DejaVu Sans" in svg
    assert re.findall(r"https?://(?!www\.w3\.org/2000/svg)", svg) == []


@pytest.mark.parametrize("text", ["var(--ink)", "<b>&amp;", "😀 مرحبا", "]]>", "#1f6274"])
def test_text_of_the_log_stays_as_typed(text: str) -> None:
    root = ElementTree.fromstring(standalone_svg(picture(text)))
    assert text in [element.text for element in root.iter(f"{SVG}text")]
    assert root.find(f"{SVG}title").text == f"About {text}"  # type: ignore[union-attr]


def test_letters_that_no_xml_may_hold_are_seen() -> None:
    # W3C, XML 1.0 (fifth edition), section 2.2: the letters of a document.
    svg = standalone_svg(picture("F\x07\ufffe\ud80001"))
    assert ElementTree.fromstring(svg).find(f"{SVG}title").text == "About F\ufffd\ufffd\ufffd01"  # type: ignore[union-attr]


def test_anything_else_is_refused() -> None:
    with pytest.raises(ValueError, match="not a picture"):
        standalone_svg(Picture(Markup("<svg>"), "", 1, ""))
