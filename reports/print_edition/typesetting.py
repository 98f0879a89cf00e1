"""Typesets a template of this folder: with the program's own fonts, and the machine's for letters that those lack."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from importlib.resources import as_file, files
from pathlib import Path
from shutil import copyfile
from tempfile import TemporaryDirectory
from typing import Any

import typst

from draincurve.reports.figures.svg_picture import Picture, standalone_svg
from draincurve.reports.print_edition.machine_fonts import UNPRINTED, LetterFonts, fonts_for, letters_of, own_fonts

PICTURES_TEMPLATE = "pictures.typ"
PICTURE_DOTS_PER_INCH = 216
"""Three dots for each CSS pixel of a picture."""


@dataclass(frozen=True, slots=True)
class Printed:
    """A document; unprinted : one sentence on letters that no font has, empty where there is none."""

    pdf: bytes
    unprinted: str


def typeset(template: str, data: Mapping[str, Any], *, day: date, standards: Sequence[str] = ()) -> Printed:
    """A template filled with data as PDF: tagged, dated `day`; the templates say what could not be printed.

    Data is passed as JSON and is never read as markup. standards : of PDF that it must meet. Source of the format:
    ISO 32000-1 (PDF 1.7).
    """
    fonts = fonts_for(letters_of(_texts(data)))
    filled = _printable(data, fonts.missing) | {"unprinted": fonts.text}
    with _compiler(template, fonts) as compiler:
        made = compiler.compile(
            format="pdf",
            sys_inputs=_inputs(filled),
            timestamp=datetime(day.year, day.month, day.day, tzinfo=UTC),
            pdf_standards=list(standards),
        )
    return Printed(bytes(made), fonts.text)


def drawn_as_png(pictures: Sequence[Picture]) -> list[bytes]:
    """Each picture as PNG on white, as it looks in the printed edition."""
    if not pictures:
        return []
    data = {"pictures": printable_pictures({str(index): picture for index, picture in enumerate(pictures)})}
    fonts = fonts_for(letters_of(_texts(data)))
    with _compiler(PICTURES_TEMPLATE, fonts) as compiler:
        made = compiler.compile(
            format="png", ppi=PICTURE_DOTS_PER_INCH, sys_inputs=_inputs(_printable(data, fonts.missing))
        )
    return [made] if isinstance(made, bytes) else [bytes(page) for page in made]


def printable_pictures(pictures: Mapping[str, Picture]) -> dict[str, dict[str, Any]]:
    """Pictures by key as values for the templates: SVG text, width [CSS px], and what they show in words."""
    return {
        key: {
            "svg": standalone_svg(picture),
            "width": picture.width,
            "alt": f"{picture.title}. {picture.description}",
        }
        for key, picture in pictures.items()
    }


@contextmanager
def _compiler(template: str, fonts: LetterFonts) -> Iterator[Any]:
    """A compiler of one template with these fonts and no others; it takes fonts by the folder."""
    with as_file(files("draincurve.reports.print_edition")) as folder, TemporaryDirectory() as chosen:
        for place, path in enumerate((*own_fonts(), *fonts.machine)):
            copyfile(path, Path(chosen) / f"{place:03d}{path.suffix}")
        compiler: Any = typst.Compiler
        yield compiler(folder / template, root=folder, font_paths=[chosen], ignore_system_fonts=True)


def _inputs(data: Mapping[str, Any]) -> dict[str, str]:
    return {"data": json.dumps(data, allow_nan=False)}


def _texts(value: Any) -> Iterator[str]:
    """Every text in plain values."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for item in value.values():
            yield from _texts(item)
    elif isinstance(value, (list, tuple)):
        for item in value:
            yield from _texts(item)


def _printable(value: Any, missing: frozenset[str]) -> Any:
    """The values with UNPRINTED for each letter that no font has."""
    if isinstance(value, str):
        return (
            value
            if not missing or value.isascii()
            else value.translate({ord(letter): UNPRINTED for letter in missing})
        )
    if isinstance(value, Mapping):
        return {name: _printable(item, missing) for name, item in value.items()}
    return [_printable(item, missing) for item in value] if isinstance(value, (list, tuple)) else value
