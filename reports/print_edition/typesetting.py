"""Setting a template of this folder with the fonts that come with the program, so that bytes are equal everywhere."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from functools import cache
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

import matplotlib
import typst
from matplotlib.ft2font import FT2Font

from reports.figures.standalone_svg import standalone_svg
from reports.figures.svg_picture import Picture

UNDRAWN = "\ufffd"


def typeset(template: str, data: Mapping[str, Any], day: date) -> bytes:
    """A template filled with data as PDF: tagged, dated on `day`, without system fonts.

    Data goes in as JSON and stays text, whatever it holds. Source of the format: ISO 32000-1 (PDF 1.7).
    """
    with as_file(files("reports.print_edition")) as folder:
        compiler = typst.Compiler(
            folder / template, root=folder, font_paths=[_font_folder()], ignore_system_fonts=True
        )
        made = compiler.compile(
            format="pdf",
            sys_inputs={"data": json.dumps(data, allow_nan=False)},
            timestamp=datetime(day.year, day.month, day.day, tzinfo=UTC),
        )
    return bytes(made)


def printable_pictures(pictures: Mapping[str, Picture]) -> dict[str, dict[str, Any]]:
    """Pictures by key as the templates take them: SVG text, width [CSS px], and what they show in words."""
    return {
        key: {
            "svg": printable_svg(picture),
            "width": picture.width,
            "alt": _drawable(f"{picture.title}. {picture.description}"),
        }
        for key, picture in pictures.items()
    }


def printable_svg(picture: Picture) -> str:
    """The picture with letters that its font lacks as U+FFFD: one of them would turn a whole label into boxes."""
    return _drawable(standalone_svg(picture))


def _drawable(text: str) -> str:
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
