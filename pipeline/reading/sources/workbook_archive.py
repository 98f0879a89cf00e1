"""The archive that an XLSX workbook is: its bounds, its sheets with their markup, before any reader opens it."""

from __future__ import annotations

import io
import lzma
import posixpath
import re
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from xml.etree import ElementTree

from draincurve.pipeline.reading.sources import bounds
from draincurve.pipeline.reading.sources.cell_marks import (
    StruckFormats,
    comments_of_sheet,
    local_name,
    parsed_part,
    struck_formats,
)
from draincurve.pipeline.reading.sources.number_formats import units_by_style
from draincurve.pipeline.reading.sources.sheet_markup import (
    SheetMarkup,
    cell_location,
    column_letters,
    sheet_markup,
)
from draincurve.schemas.errors import SourceError

_WORKBOOK = "xl/workbook.xml"
_LINKS = "xl/_rels/workbook.xml.rels"
_STYLES = "xl/styles.xml"
_TEXT_START = re.compile(rb"<(?:[\w.-]+:)?si[\s/>]")
_DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    ElementTree.ParseError,
    LookupError,
    ValueError,
    EOFError,
    RuntimeError,
    OSError,
)
"""What a damaged archive, a damaged part or a password gives rise to."""
_SHORT_TEXT = 100
_MARKUP_SHARE = 4
"""A text with its markup may have so many times the bytes of the longest cell."""


@dataclass(frozen=True, slots=True)
class SheetInFile:
    """A sheet of a workbook.

    markup : None for a sheet that holds no cells, such as a chart. comments : by row and column, counted from 1
    """

    name: str
    hidden: bool
    markup: SheetMarkup | None
    comments: Mapping[tuple[int, int], str] = field(default_factory=dict)


def is_archive(content: bytes) -> bool:
    """Whether a file is a zip archive with the parts of an XLSX workbook."""
    if not content.startswith(b"PK\x03\x04"):
        return False
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            return _WORKBOOK in archive.namelist()
    except _DAMAGED:
        return False


def sheets_in_file(content: bytes, path: Path) -> dict[str, SheetInFile]:
    """The sheets of an XLSX workbook by name, in order.

    Raises SourceError, naming the bound, for a workbook past one, and for one that is damaged.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            _refuse_large(archive, path)
            return _sheets(archive, path)
    except _DAMAGED as fault:
        reason = " ".join(str(fault).split())[:200]
        raise SourceError(f"{path}: not a workbook that can be opened ({reason}); save it again as XLSX") from fault


def refuse_large_archive(content: bytes, path: Path) -> None:
    """Raise SourceError where a file is an archive that unpacks to more than the bound."""
    if not content.startswith(b"PK"):
        return
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            _refuse_large(archive, path)
    except _DAMAGED as fault:
        raise SourceError(f"{path}: not a workbook that can be opened ({fault}); save it again as XLSX") from fault


def _refuse_large(archive: zipfile.ZipFile, path: Path) -> None:
    parts = archive.infolist()
    if len(parts) > bounds.MOST_PARTS:
        raise SourceError(
            f"{path}: holds {len(parts):,} parts; at most {bounds.MOST_PARTS:,} are read: save it again"
        )
    size = sum(part.file_size for part in parts)
    if size > bounds.MOST_UNPACKED_BYTES:
        raise SourceError(
            f"{path}: unpacks to {size / 1e6:,.0f} MB; at most {bounds.MOST_UNPACKED_BYTES / 1e6:,.0f} MB are read: "
            "save the log as CSV, or in several workbooks"
        )


def _sheets(archive: zipfile.ZipFile, path: Path) -> dict[str, SheetInFile]:
    book = parsed_part(archive, _WORKBOOK)
    links = {link.get("Id", ""): link for link in parsed_part(archive, _LINKS)}
    recalculated = any(
        node.get("fullCalcOnLoad") in ("1", "true") for node in book.iter() if local_name(node.tag) == "calcPr"
    )
    listed = [node for node in book.iter() if local_name(node.tag) == "sheet"]
    if len(listed) > bounds.MOST_SHEETS:
        raise SourceError(
            f"{path}: holds {len(listed):,} sheets; at most {bounds.MOST_SHEETS} are read: put the log in a workbook "
            "of its own"
        )
    styles = _styles(archive)
    text_sizes, formats = _shared_texts(archive, path, styles)
    units = units_by_style(styles)
    sheets: dict[str, SheetInFile] = {}
    for node in listed:
        name = node.get("name", "")
        link = links.get(next((value for key, value in node.attrib.items() if local_name(key) == "id"), ""))
        hidden = node.get("state", "visible") != "visible"
        if link is None or not str(link.get("Type", "")).endswith("/worksheet"):
            sheets[name] = SheetInFile(name, hidden, None)
            continue
        target = str(link.get("Target", ""))
        part = target.lstrip("/") if target.startswith("/") else posixpath.normpath(posixpath.join("xl", target))
        with archive.open(part) as opened:
            markup = sheet_markup(
                opened, recalculated=recalculated, text_sizes=text_sizes, formats=formats, units=units
            )
        _refuse_far(markup, name, path=path)
        located = (
            (cell_location(cell.encode()), comment) for cell, comment in comments_of_sheet(archive, part).items()
        )
        comments = {location: comment for location, comment in located if location is not None}
        sheets[name] = SheetInFile(name, hidden, markup, comments)
    return sheets


def _refuse_far(markup: SheetMarkup, name: str, *, path: Path) -> None:
    """Raise SourceError for a sheet whose cells reach too far, or whose texts are too long together."""
    corner = f"{column_letters(min(markup.columns, 10**6))}{markup.rows}"
    where = f"{path}: sheet {name}: reaches to {corner}"
    if markup.columns > bounds.MOST_COLUMNS:
        raise SourceError(
            f"{where}; at most {bounds.MOST_COLUMNS:,} columns are read: delete the cells that are far from the log"
        )
    if markup.rows * markup.columns > bounds.MOST_SHEET_CELLS:
        raise SourceError(
            f"{where}; at most {bounds.MOST_SHEET_CELLS:,} cells are read: delete the cells that are far from the log"
        )
    if markup.text_bytes > bounds.MOST_TEXT_BYTES:
        raise SourceError(
            f"{path}: sheet {name}: holds {markup.text_bytes / 1e6:,.0f} MB of text; at most "
            f"{bounds.MOST_TEXT_BYTES / 1e6:,.0f} MB are read: shorten the texts"
        )


def _styles(archive: zipfile.ZipFile) -> ElementTree.Element | None:
    """The part of formats, if there is one and any of them strikes text or has words in it."""
    name = {part.casefold(): part for part in archive.namelist()}.get(_STYLES)
    markup = b"" if name is None else archive.read(name)
    wanted = name is not None and (b"strike" in markup or b"&quot;" in markup or b"numFmt " in markup)
    return parsed_part(archive, name) if wanted and name is not None else None


def _shared_texts(
    archive: zipfile.ZipFile, path: Path, styles: ElementTree.Element | None
) -> tuple[list[int], StruckFormats]:
    """Bytes of each shared text with its markup, empty where none is long enough to matter; and what strikes text."""
    name = {part.casefold(): part for part in archive.namelist()}.get("xl/sharedstrings.xml")
    texts = [] if name is None else _TEXT_START.split(archive.read(name))[1:]
    longest = max(map(len, texts), default=0)
    if longest > _MARKUP_SHARE * bounds.LONGEST_CELL:
        raise SourceError(
            f"{path}: holds a text of {longest:,} bytes; a cell has at most {bounds.LONGEST_CELL:,} characters: "
            "shorten it"
        )
    return [len(text) for text in texts] if longest > _SHORT_TEXT else [], struck_formats(styles, texts)
