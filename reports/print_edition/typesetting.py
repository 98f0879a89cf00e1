"""Typesets a template of this folder with fonts that come with the program, so that bytes are the same everywhere."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from functools import cache
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

import matplotlib
import typst
from matplotlib.ft2font import FT2Font

from draincurve.reports.figures.svg_picture import Picture, standalone_svg

UNDRAWN = "\ufffd"
PICTURES_TEMPLATE = "pictures.typ"
PICTURE_DOTS_PER_INCH = 216
"""Three dots for each CSS pixel of a picture."""


def typeset(template: str, data: Mapping[str, Any], *, day: date) -> bytes:
    """A template filled with data as PDF: tagged, dated `day`, without system fonts.

    Data is passed as JSON and is never read as markup. Source of the format: ISO 32000-1 (PDF 1.7).
    """
    with as_file(files("draincurve.reports.print_edition")) as folder:
        made = _compiler(folder, template).compile(
            format="pdf", sys_inputs=_inputs(data), timestamp=datetime(day.year, day.month, day.day, tzinfo=UTC)
        )
    return bytes(made)


def drawn_as_png(pictures: Sequence[Picture]) -> list[bytes]:
    """Each picture as PNG on white, as it looks in the printed edition."""
    if not pictures:
        return []
    data = {"pictures": printable_pictures({str(index): picture for index, picture in enumerate(pictures)})}
    with as_file(files("draincurve.reports.print_edition")) as folder:
        made = _compiler(folder, PICTURES_TEMPLATE).compile(
            format="png", ppi=PICTURE_DOTS_PER_INCH, sys_inputs=_inputs(data)
        )
    return [made] if isinstance(made, bytes) else [bytes(page) for page in made]


def printable_pictures(pictures: Mapping[str, Picture]) -> dict[str, dict[str, Any]]:
    """Pictures by key as values for the templates: SVG text, width [CSS px], and what they show in words."""
    return {
        key: {
            "svg": _drawable(standalone_svg(picture)),
            "width": picture.width,
            "alt": _drawable(f"{picture.title}. {picture.description}"),
        }
        for key, picture in pictures.items()
    }


def _compiler(folder: Path, template: str) -> Any:
    return typst.Compiler(folder / template, root=folder, font_paths=[_font_folder()], ignore_system_fonts=True)


def _inputs(data: Mapping[str, Any]) -> dict[str, str]:
    return {"data": json.dumps(data, allow_nan=False)}


def _drawable(text: str) -> str:
    """Letters that the font of pictures lacks become U+FFFD; one of them would turn a whole label into boxes."""
    if text.isascii():
        return text
    known = _letters_drawn()
    return "".join(letter if letter.isascii() or ord(letter) in known else UNDRAWN for letter in text)


@cache
def _letters_drawn() -> frozenset[int]:
    """Code points that the font of the pictures has, plain and bold."""
    plain, bold = (FT2Font(_font_folder() / name).get_charmap() for name in ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf"))
    return frozenset(plain.keys() & bold.keys())


def _font_folder() -> Path:
    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"
