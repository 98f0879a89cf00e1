"""Sound workbooks changed in their markup: references far out, claims, formulas, merged cells, entities."""

from __future__ import annotations

import io
import random
import zipfile
from collections.abc import Callable

from malformed_files import flipped

SHEET, TEXTS, BOOK = "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", "xl/workbook.xml"
REFERENCES = (
    b"XFD1048576", b"xfd1", b"ZZZZ9", b"A1048577", b"A99999999999", b"AAAAAAAAAAAA1", b"$A$1", b"A0", b"0A", b"",
    b"&#65;1", b"B12", b"NTP20000",
)  # fmt: skip
PIECES = (
    b'<row r="1048576"><c r="A1048576"><v>1</v></c></row>',
    b"<row><c><v>1</v></c><c><v>2</v></c></row>",
    b'<row r="5" hidden="1"/>',
    b'<c r="C3"><f>1+1</f></c>',
    b'<c r="C3" t="e"><v>#REF!</v></c>',
    b'<c r="C3" t="s"><v>99999999</v></c>',
    b'<c r="C3" t="d"><v>2026-02-30T99:99</v></c>',
    b'<c r="C3" s="99"><v>1e400</v></c>',
    b"<!-- -->",
    b"<![CDATA[<row>]]>",
    b"</row>",
    b"<c <c <c ",
)
MERGED = (b"A2:A1048576", b"A1:XFD1048576", b"B9:B2", b"A2", b"ZZZ1:ZZZ5", b"A2:A5")
ODS_START = (
    b'<?xml version="1.0"?><office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    b'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    b'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><office:body><office:spreadsheet>'
)
Edit = Callable[[bytes, random.Random], bytes]


def _referred(part: bytes, chance: random.Random) -> bytes:
    starts = [found for found in range(len(part)) if part.startswith(b'r="', found)]
    at = chance.choice(starts) + 3 if starts else 0
    return part[:at] + chance.choice(REFERENCES) + part[part.find(b'"', at) :]


def _with_piece(part: bytes, chance: random.Random) -> bytes:
    before = chance.choice((b"</sheetData>", b"<row ", b"<c ", b"</row>"))
    return part.replace(before, chance.choice(PIECES) * chance.choice((1, 1, 3, 2000)) + before, 1)


def _merged(part: bytes, chance: random.Random) -> bytes:
    ranges = b"".join(b'<mergeCell ref="' + chance.choice(MERGED) + b'"/>' for _ in range(3))
    return part.replace(b"</sheetData>", b"</sheetData><mergeCells>" + ranges + b"</mergeCells>")


def _claimed(part: bytes, chance: random.Random) -> bytes:
    return part.replace(b"<sheetData>", b'<dimension ref="A1:XFD1048576"/><sheetData>')


def _declared(part: bytes, chance: random.Random) -> bytes:
    entities = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
    return part.replace(b"<worksheet", entities + b"<worksheet").replace(b"<workbook", entities + b"<workbook")


def _repeated(part: bytes, chance: random.Random) -> bytes:
    return part.replace(b"<si>", b"<si>" * chance.choice((2, 5_000))).replace(b"<t>", b"<t>" + b"x" * 40_000, 1)


def _many_sheets(part: bytes, chance: random.Random) -> bytes:
    start, end = part.find(b"<sheet "), part.find(b"</sheets>")
    return part[:end] + part[start:end] * chance.choice((1, 40, 400)) + part[end:]


def _hidden(part: bytes, chance: random.Random) -> bytes:
    return part.replace(b'state="visible"', b'state="hidden"').replace(
        b"<sheet name", b'<sheet state="veryHidden" name'
    )


EDITS: dict[str, tuple[Edit, ...]] = {
    SHEET: (_referred, _referred, _with_piece, _with_piece, _merged, _claimed, _declared, flipped),
    TEXTS: (_repeated, flipped, lambda part, _: part.replace(b"<t", b"<t><t")),
    BOOK: (_many_sheets, _hidden, _declared, flipped),
}


def mutated_workbook(content: bytes, chance: random.Random) -> bytes:
    """A workbook with one to three changes to its markup, whole as an archive."""
    with zipfile.ZipFile(io.BytesIO(content)) as book:
        parts = {name: book.read(name) for name in book.namelist()}
    for _ in range(chance.choice((1, 1, 2, 3))):
        name = chance.choice((SHEET, SHEET, SHEET, BOOK, TEXTS))
        if name in parts:
            parts[name] = chance.choice(EDITS[name])(parts[name], chance)
    saved = io.BytesIO()
    with zipfile.ZipFile(saved, "w", zipfile.ZIP_DEFLATED) as book:
        for name, part in parts.items():
            book.writestr(name, part)
        if chance.random() < 0.004:
            with book.open("xl/media/x.bin", "w") as part:
                for _ in range(700):
                    part.write(bytes(1_000_000))
    return saved.getvalue()


def mutated_ods(chance: random.Random) -> bytes:
    """A sheet of another format with cells that claim to be repeated, or with bytes changed."""
    repeats = chance.choice((b"", b"", b"3", b"70000", b"2000000000", b"-1", b"x"))
    cell = (
        b'<table:table-cell table:number-columns-repeated="%s" office:value-type="string"><text:p>unit</text:p>'
        b"</table:table-cell>"
    )
    row = b'<table:table-row table:number-rows-repeated="%s">%s</table:table-row>'
    rows = b"".join(row % (chance.choice((b"1", b"2", b"1000000")), cell % repeats) for _ in range(3))
    body = (
        ODS_START + b'<table:table table:name="drains">' + rows + b"</table:table></office:spreadsheet></office:body>"
    )
    body += b"</office:document-content>"
    saved = io.BytesIO()
    with zipfile.ZipFile(saved, "w") as book:
        book.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        book.writestr("content.xml", flipped(body, chance) if chance.random() < 0.3 else body)
    return saved.getvalue()
