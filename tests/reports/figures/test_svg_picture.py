"""Figures as SVG, inside a page and as files of their own: ids, colours, size, and the log's text left as typed."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ElementTree

import matplotlib
import pytest
from markupsafe import Markup
from matplotlib.figure import Figure

from draincurve.reports.figures.figure_style import (
    PALETTE,
    PETROL,
    Margins,
    axes_at,
    drawing_style,
    label_text,
    resize,
)
from draincurve.reports.figures.svg_picture import Picture, inline_picture, standalone_svg


def picture(text: str, prefix: str = "one") -> str:
    figure = Figure()
    resize(figure, width=200.0, height=120.0)
    with drawing_style():
        axes = axes_at(figure, Margins(20.0, 10.0, 10.0, 20.0))
        axes.plot([0.0, 1.0], [0.0, 1.0], "o", color=PETROL)
        axes.bar([0.5], [0.5], hatch="//", color="none", edgecolor=PETROL)
        axes.text(0.5, 0.5, label_text(text))
    return str(inline_picture(figure, prefix, title="A title", description="What it shows").svg)


@pytest.mark.parametrize("text", ["<b>&amp;", "$x_1$", '"--><!--', "#1f6274 1.23456789", "😀 مرحبا", "a\nb\x00c"])
def test_text_of_the_log_stays_text(text: str) -> None:
    root = ElementTree.fromstring(picture(text))
    assert label_text(text) in [element.text for element in root.iter("text")]


def test_ids_start_with_the_prefix_and_every_reference_has_one() -> None:
    svg = picture("x")
    ids = set(re.findall(r'id="([^"]+)"', svg))
    assert ids
    assert all(name.startswith("one-") for name in ids)
    assert set(re.findall(r'(?:url\(#|href="#)([^)"]+)', svg)) <= ids
    assert not ids & set(re.findall(r'id="([^"]+)"', picture("x", "two")))


def test_nothing_of_a_standalone_file_is_left() -> None:
    svg = picture("x")
    for leftover in (
        "<g>",
        "<g/>",
        "rotate(-0",
        "http",
        "<?xml",
        "DOCTYPE",
        "<style",
        "metadata",
        "font-family",
        "xlink",
    ):
        assert leftover not in svg
    assert PETROL not in svg
    assert "var(--petrol)" in svg


def test_same_bytes_and_no_setting_left_behind() -> None:
    before = dict(matplotlib.rcParams)
    assert picture("x") == picture("x")
    assert dict(matplotlib.rcParams) == before


def test_texts_stand_where_matplotlib_s_own_file_has_them() -> None:
    figure = Figure()
    resize(figure, width=200.0, height=120.0)
    with drawing_style():
        axes = axes_at(figure, Margins(20.0, 10.0, 10.0, 20.0))
        for size, weight in ((9.0, "normal"), (14.0, "normal"), (9.0, "bold")):
            axes.text(0.5, 0.5, "as wide\nas ever", ha="center", va="center", fontsize=size, weight=weight)
        own = io.StringIO()
        figure.savefig(own, format="svg")
    inline = str(inline_picture(figure, "one", title="A title", description="What it shows").svg)
    expected, places = (
        [float(number) for place in re.findall(r"translate\(([\d. ]+)\)", svg) for number in place.split()]
        for svg in (own.getvalue(), inline)
    )
    assert len(expected) == 12
    assert places == pytest.approx(expected, abs=0.006)


def test_every_colour_of_the_palette_is_in_the_style_sheet() -> None:
    from importlib.resources import files

    style = files("draincurve.reports.page").joinpath("style.css").read_text(encoding="utf-8")
    assert all(style.count(f"--{name}:") == 2 for name in PALETTE)


def test_plain_cuts_and_cleans() -> None:
    assert label_text("a\tb\n") == "a b"
    assert label_text("x" * 30, 10) == "x" * 9 + "…"


SVG = "{http://www.w3.org/2000/svg}"


def drawn(text: str) -> Picture:
    figure = Figure()
    resize(figure, width=200.0, height=120.0)
    with drawing_style():
        axes = axes_at(figure, Margins(20.0, 10.0, 10.0, 20.0))
        axes.plot([0.0, 1.0], [0.0, 1.0], "o", color=PETROL)
        axes.text(0.5, 0.5, label_text(text))
    return inline_picture(figure, "one", title=f"About {text}", description=f"What {text} shows")


def test_a_standalone_file_needs_no_page_around_it() -> None:
    svg = standalone_svg(drawn("F01"))
    root = ElementTree.fromstring(svg)
    assert root.tag == f"{SVG}svg"
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("200", "120", "0 0 200 120")
    assert "var(" not in svg
    assert PETROL in svg
    assert "DejaVu Sans" in svg
    assert re.findall(r"https?://(?!www\.w3\.org/2000/svg)", svg) == []


@pytest.mark.parametrize("text", ["var(--ink)", "<b>&amp;", "😀 مرحبا", "]]>", "#1f6274"])
def test_text_of_the_log_stays_as_typed_in_a_standalone_file(text: str) -> None:
    root = ElementTree.fromstring(standalone_svg(drawn(text)))
    assert text in [element.text for element in root.iter(f"{SVG}text")]
    assert root.find(f"{SVG}title").text == f"About {text}"  # type: ignore[union-attr]


def test_letters_that_no_xml_may_hold_are_seen() -> None:
    # W3C, XML 1.0 (fifth edition), section 2.2: the letters of a document.
    svg = standalone_svg(drawn("F\x07\ufffe\ud80001"))
    assert ElementTree.fromstring(svg).find(f"{SVG}title").text == "About F\ufffd\ufffd\ufffd01"  # type: ignore[union-attr]


def test_only_a_picture_of_the_page_becomes_a_standalone_file() -> None:
    with pytest.raises(ValueError, match="not a picture"):
        standalone_svg(Picture(Markup("<svg>"), "", 1, ""))
