"""Marks that people leave on the cells of a workbook beside their values: comments, and text that is struck through.

The reader of values gives neither. The cells of a sheet are searched only where the workbook has a struck format.
"""

from __future__ import annotations

import posixpath
import re
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from xml.etree import ElementTree

from draincurve.pipeline.reading.sources import bounds

COMMENT, STRUCK, STRUCK_IN_PART, MERGED = "comment", "struck", "struck in part", "merged"
STRUCK_ROW = "struck row"
"""Kinds of marks. A struck row is marked once, on its first cell. `merged` is on each further column that a merged
cell covers; its text names the first one."""

_NAME = rb"(?:[\w.-]+:)?"
_RUN = re.compile(rb"<" + _NAME + rb"r>(.*?)</" + _NAME + rb"r>", re.DOTALL)
_STRIKE = re.compile(rb"<" + _NAME + rb"strike(?:\s+val\s*=\s*[\"'](?:1|true)[\"'])?\s*/?>")
_FILLED_TEXT = re.compile(rb"<" + _NAME + rb"t\b[^<>]*>\s*[^<\s]")
_TEXT_CELL = re.compile(rb"<" + _NAME + rb"c\s([^<>]*\bt\s*=\s*[\"']s[\"'][^<>]*)>\s*<" + _NAME + rb"v>(\d+)<")
_INLINE_CELL = re.compile(
    rb"<" + _NAME + rb"c\s([^<>]*\bt\s*=\s*[\"']inlineStr[\"'][^<>]*)>(.*?)</" + _NAME + rb"c>", re.DOTALL
)
_STYLED_CELL = rb"<" + _NAME + rb"c\s([^<>]*\bs\s*=\s*[\"'](?:%s)[\"'][^<>]*)(?<!/)>(?!\s*</)"
OWN_AUTHOR = "draincurve"
"""Author of the comments that explain the headers of the entry workbook."""

_ANSWERABLE = "[threaded comment]"
"""What the plain copy of a comment that can be answered begins with; the words alone are in a part of their own."""


@dataclass(frozen=True, slots=True)
class StruckFormats:
    """How text is struck through in a workbook.

    styles : numbers of the cell formats that strike. texts : kind of mark, by the number of the shared text
    """

    styles: tuple[int, ...] = ()
    texts: Mapping[int, str] = field(default_factory=dict)

    def cells(self, piece: bytes) -> Iterator[tuple[bytes, str]]:
        """Attributes of each filled cell in a piece of markup that is struck through, and the kind of mark."""
        if self.texts:
            for cell in _TEXT_CELL.finditer(piece):
                if int(cell[2]) in self.texts:
                    yield cell[1], self.texts[int(cell[2])]
        if b"strike" in piece:
            for cell in _INLINE_CELL.finditer(piece):
                mark = _mark_of_text(cell[2])
                if mark is not None:
                    yield cell[1], mark
        if self.styles:
            yield from ((attributes, STRUCK) for attributes in styled_cells(piece, self.styles))


def styled_cells(piece: bytes, styles: Iterable[int]) -> Iterator[bytes]:
    """Attributes of each filled cell in a piece of markup that has one of some formats, by their numbers."""
    numbers = b"|".join(str(number).encode() for number in styles)
    return (cell[1] for cell in re.finditer(_STYLED_CELL % numbers, piece))


NOTHING_STRUCK = StruckFormats()


def struck_formats(styles: ElementTree.Element | None, texts: list[bytes]) -> StruckFormats:
    """The formats of a workbook that strike. styles : its part of formats. texts : markup of each shared text."""
    marks = {number: _mark_of_text(text) for number, text in enumerate(texts) if b"strike" in text}
    known = {number: mark for number, mark in marks.items() if mark is not None}
    if styles is None:
        return StruckFormats((), known)
    parts = {local_name(part.tag): part for part in styles}
    fonts = [any(_strikes(item) for item in font) for font in parts.get("fonts", ())]
    formats = [item for item in parts.get("cellXfs", ()) if local_name(item.tag) == "xf"]
    numbers = [int(item.get("fontId", 0)) for item in formats]
    return StruckFormats(
        tuple(index for index, number in enumerate(numbers) if number < len(fonts) and fonts[number]), known
    )


def comments_of_sheet(archive: zipfile.ZipFile, part: str) -> dict[str, str]:
    """The text of each comment, by its cell as "C5", but for those that the program wrote itself.

    part : the sheet's own. ValueError for too many.
    """
    folder, name = posixpath.split(part)
    links = f"{folder}/_rels/{name}.rels"
    parts = frozenset(archive.namelist())
    if links not in parts:
        return {}
    plain: dict[str, str] = {}
    threads: dict[str, list[str]] = {}
    for link in parsed_part(archive, links):
        kind = str(link.get("Type", "")).rpartition("/")[2]
        target = str(link.get("Target", ""))
        if kind not in ("comments", "threadedComment"):
            continue
        path = target.lstrip("/") if target.startswith("/") else posixpath.normpath(posixpath.join(folder, target))
        if path not in parts:
            continue
        if archive.getinfo(path).file_size > bounds.MOST_COMMENT_BYTES:
            raise ValueError(f"more than {bounds.MOST_COMMENT_BYTES / 1e6:.0f} MB of comments")
        comments = parsed_part(archive, path)
        authors = [item.text for item in comments.iter() if local_name(item.tag) == "author"]
        our_authors = [str(number) for number, author in enumerate(authors) if author == OWN_AUTHOR]
        for item in comments.iter():
            if local_name(item.tag) in ("comment", "threadedComment") and item.get("authorId") not in our_authors:
                comment = _comment_text(item)
                if comment and kind == "comments":
                    plain[item.get("ref", "")] = comment
                elif comment:
                    threads.setdefault(item.get("ref", ""), []).append(comment)
    answered = {reference: " / ".join(comment) for reference, comment in threads.items()}
    return {
        ref: comment for ref, comment in plain.items() if not comment.casefold().startswith(_ANSWERABLE)
    } | answered


def parsed_part(archive: zipfile.ZipFile, name: str) -> ElementTree.Element:
    """The markup of a part. ValueError where it declares entities."""
    markup = archive.read(name)
    if b"<!DOCTYPE" in markup or b"<!ENTITY" in markup:
        raise ValueError(f"{name} declares entities")
    return ElementTree.fromstring(markup)


def _comment_text(comment: ElementTree.Element) -> str:
    """The text of a comment on one line."""
    texts = [node.text or "" for node in comment.iter() if local_name(node.tag) in ("t", "text")]
    return " ".join("".join(texts).split())


def _mark_of_text(markup: bytes) -> str | None:
    """Whether a text with formats of its own is struck through as a whole, in part, or not at all."""
    runs = [run for run in _RUN.findall(markup) if _FILLED_TEXT.search(run)]
    struck = sum(_STRIKE.search(run) is not None for run in runs)
    if not struck:
        return None
    return STRUCK if struck == len(runs) else STRUCK_IN_PART


def _strikes(item: ElementTree.Element) -> bool:
    return local_name(item.tag) == "strike" and item.get("val", "1") in ("1", "true")


def local_name(name: str) -> str:
    """A name without its namespace."""
    return name.rpartition("}")[2]
