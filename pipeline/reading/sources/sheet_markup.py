"""What the markup of a sheet says beside its values: its extent, hidden and struck rows, merged cells, faults.

The reader of values gives none of this. The markup is scanned in pieces of whole rows, so that a large sheet takes
little memory, and nothing that the file says about itself is believed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import IO

from draincurve.pipeline.reading.sources import bounds
from draincurve.pipeline.reading.sources.cell_marks import NOTHING_STRUCK, StruckFormats, styled_cells

_PIECE_BYTES = 4_000_000
_LONGEST_ROW_BYTES = 64_000_000
_USUAL_COLUMNS, _USUAL_GAP = 100, 10_000
"""Past these, blank cells are told from others: whole rows may be formatted."""
_NAME = rb"(?:[\w.-]+:)?"
_ROW_END = re.compile(rb"</" + _NAME + rb"row\s*>")
_REFERENCE = re.compile(rb"<" + _NAME + rb"(?:c|row)\s(?:[^<>]*?\s)?r\s*=\s*[\"']([A-Za-z]*)(\d+)[\"']")
_FILLED = re.compile(
    rb"<" + _NAME + rb"c\s(?:[^<>]*?\s)?r\s*=\s*[\"']([A-Za-z]+)(\d+)[\"'](?:[^<>/]|/(?!>))*>(?!\s*</)"
)
_WITH_VALUE = (
    rb"<" + _NAME + rb"c\s(?:[^<>]*?\s)?r\s*=\s*[\"']%s\d+[\"'][^<>]*(?<!/)>\s*"
    rb"(?:<" + _NAME + rb"f\b[^<>]*(?:/>|>[^<]*</" + _NAME + rb"f\s*>)\s*)?<" + _NAME + rb"(?:v\b[^<>]*>[^<]|is[\s>])"
)
_CELL_START = re.compile(rb"<" + _NAME + rb"c[\s>]")
_ROW_START = re.compile(rb"<" + _NAME + rb"row[\s/>]")
_HIDDEN_ROW = re.compile(
    rb"<" + _NAME + rb"row\b(?=[^<>]*\s(?:hidden\s*=\s*[\"'](?:1|true)|ht\s*=\s*[\"']0(?:\.0*)?)[\"'])"
    rb"[^<>]*?\sr\s*=\s*[\"'](\d+)"
)
"""A row of no height is hidden as well."""
_HIDDEN_COLUMNS = re.compile(
    rb"<" + _NAME + rb"col\b(?=[^<>]*\s(?:hidden\s*=\s*[\"'](?:1|true)|width\s*=\s*[\"']0(?:\.0*)?)[\"'])"
    rb"(?=[^<>]*\smin\s*=\s*[\"'](\d{1,6}))(?=[^<>]*\smax\s*=\s*[\"'](\d{1,6}))"
)
_ATTRIBUTE = re.compile(rb"\b(r|t|s)\s*=\s*[\"']([^\"']*)[\"']")
_FORMULA = re.compile(rb"<" + _NAME + rb"f[\s/>]")
_VALUE = re.compile(rb"<" + _NAME + rb"v\b[^<>]*?(?:/>|>([^<]*)<)")
_INLINE = re.compile(rb"<" + _NAME + rb"is[\s>]")
_ERROR_TYPE = re.compile(rb"\bt\s*=\s*[\"']e[\"']")
_MERGED = re.compile(
    rb"<" + _NAME + rb"mergeCell\s[^<>]*?\bref\s*=\s*[\"']\$?([A-Za-z]+)\$?(\d+):\$?([A-Za-z]+)\$?(\d+)"
)
_WHOLE_NUMBER = re.compile(rb"<" + _NAME + rb"v>(\d+)<")


@dataclass(frozen=True, slots=True)
class MergedCells:
    """A range of merged cells: its first and last row and column, counted from 1."""

    first_row: int
    last_row: int
    column: int
    last_column: int


@dataclass(frozen=True, slots=True)
class SheetMarkup:
    """What the markup of a sheet says beside its values.

    rows, columns : last row and last column. first_column : the first one with a value, 0 where there is none
    hidden_rows : rows that a filter or a person has hidden; hidden_columns : first and last number of hidden ones
    faults : why the value of a cell is not known, by row and column, both counted from 1
    text_bytes : bytes of the shared texts that its cells may refer to, as often as they do
    struck : kind of mark of each filled cell that is struck through, by row and column
    units : rows of the cells whose format shows a unit behind a number, by column, counted from 1, and unit
    """

    rows: int
    columns: int
    first_column: int
    hidden_rows: frozenset[int]
    merged: tuple[MergedCells, ...]
    faults: dict[tuple[int, int], str]
    text_bytes: int
    struck: dict[tuple[int, int], str]
    hidden_columns: tuple[tuple[int, int], ...]
    units: Mapping[tuple[int, str], Sequence[int]]


def sheet_markup(
    part: IO[bytes],
    *,
    recalculated: bool,
    text_sizes: list[int],
    formats: StruckFormats = NOTHING_STRUCK,
    units: Mapping[int, str] = MappingProxyType({}),
) -> SheetMarkup:
    """Scan the markup of a sheet.

    recalculated : whether the program that opens the workbook is to calculate it anew, so that a 0 stored with a
    formula may be no result. text_sizes : bytes of each shared text. formats : those that strike text through
    units : those that show a unit, by their number
    """
    rows = columns = first_column = text_bytes = 0
    hidden: set[int] = set()
    hidden_columns: list[tuple[int, int]] = []
    merged: list[MergedCells] = []
    faults: dict[tuple[int, int], str] = {}
    struck: dict[tuple[int, int], str] = {}
    with_unit: dict[tuple[int, str], list[int]] = {}
    for piece in _pieces(part):
        if not rows:  # columns are described above the rows
            above, *_ = _ROW_START.split(piece, maxsplit=1)
            hidden_columns += [(int(start), int(end)) for start, end in _HIDDEN_COLUMNS.findall(above)]
        last_row, last_column = _extent(piece, rows)
        rows, columns = max(rows, last_row), max(columns, last_column)
        first_column = _first_column(piece, first_column)
        hidden |= {int(row) for row in _HIDDEN_ROW.findall(piece)}
        faults |= _cells_without_value(piece, recalculated=recalculated)
        merged += [
            MergedCells(int(first), int(last), column_number(column), column_number(last_column))
            for column, first, last_column, last in _MERGED.findall(piece)
        ]
        for attributes, mark in formats.cells(piece):
            location = cell_location(dict(_ATTRIBUTE.findall(attributes)).get(b"r", b""))
            if location is not None:
                struck[location] = mark
        for (row, column), unit in _cells_with_unit(piece, units):
            with_unit.setdefault((column, unit), []).append(row)
        if len(struck) > bounds.MOST_MARKED_CELLS:
            raise ValueError(f"more than {bounds.MOST_MARKED_CELLS:,} cells are struck through")
        if text_sizes:
            numbers = (int(digits) for digits in _WHOLE_NUMBER.findall(piece))
            text_bytes += sum(text_sizes[number] for number in numbers if number < len(text_sizes))
    return SheetMarkup(
        rows,
        columns,
        first_column,
        frozenset(hidden),
        tuple(merged),
        faults,
        text_bytes,
        struck,
        tuple(hidden_columns),
        with_unit,
    )


def _cells_with_unit(piece: bytes, units: Mapping[int, str]) -> Iterator[tuple[tuple[int, int], str]]:
    """Location and unit of each filled cell of a piece whose format shows a unit."""
    if not units:
        return
    for attributes in styled_cells(piece, units):
        named = dict(_ATTRIBUTE.findall(attributes))
        location = cell_location(named.get(b"r", b""))
        if location is not None:
            yield location, units[int(named[b"s"])]


def cell_location(reference: bytes) -> tuple[int, int] | None:
    """Row and column of a cell such as C5, both counted from 1; None for anything else."""
    match = re.fullmatch(rb"([A-Za-z]{1,3})(\d{1,7})", reference)
    return (int(match[2]), column_number(match[1])) if match else None


def column_number(letters: bytes) -> int:
    """Number of a column from 1: A is 1, XFD is 16,384."""
    number = 0
    for letter in letters[:8].upper():
        number = number * 26 + letter - ord("A") + 1
    return number


def column_letters(number: int) -> str:
    """Letters of a column, counted from 1."""
    letters = ""
    while number:
        number, letter = divmod(number - 1, 26)
        letters = chr(ord("A") + letter) + letters
    return letters


def _pieces(part: IO[bytes]) -> Iterator[bytes]:
    """The markup in pieces that end with a row, so that no cell is cut. ValueError for a row without an end."""
    left = b""
    while block := part.read(_PIECE_BYTES):
        left += block
        if len(left) > _LONGEST_ROW_BYTES:
            raise ValueError(f"a row of more than {_LONGEST_ROW_BYTES // 1_000_000} MB")
        ends = [match.end() for match in _ROW_END.finditer(left, max(0, len(left) - len(block) - 40))]
        if ends:
            yield left[: ends[-1]]
            left = left[ends[-1] :]
    if left:
        yield left


def _extent(piece: bytes, rows_before: int) -> tuple[int, int]:
    """Last row and column of the cells of a piece; blank cells count only where they have to be looked at."""
    references = _REFERENCE.findall(piece)
    row = _last_row(references)
    column = max(map(column_number, {letters for letters, _ in references}), default=0)
    cells = len(_CELL_START.findall(piece))
    if cells > sum(bool(letters) for letters, _ in references):  # cells without a reference follow one another
        row = max(row, rows_before + len(_ROW_START.findall(piece)))
        starts = [item.start() for item in _ROW_START.finditer(piece)]
        ends = [*starts[1:], len(piece)]
        column = max(
            [column, *(len(_CELL_START.findall(piece, start, end)) for start, end in zip(starts, ends, strict=True))]
        )
        return row, column
    if column > _USUAL_COLUMNS or row > rows_before + _USUAL_GAP + len(_ROW_START.findall(piece)):
        filled = _FILLED.findall(piece)
        return _last_row(filled), max(map(column_number, {letters for letters, _ in filled}), default=0)
    return row, column


def _first_column(piece: bytes, found_before: int) -> int:
    """The first column in which a cell has a value, here or in the pieces before."""
    if found_before == 1:
        return 1
    seen = {column_number(letters) for letters, _ in _REFERENCE.findall(piece) if letters}
    for column in sorted(number for number in seen if not found_before or number < found_before):
        if re.search(_WITH_VALUE % column_letters(column).encode(), piece, re.IGNORECASE):
            return column
    return found_before or (1 if _CELL_START.search(piece) and not seen else 0)


def _last_row(references: Iterable[tuple[bytes, bytes]]) -> int:
    return max((int(digits[:12]) for _, digits in references), default=0)


def _cells_without_value(piece: bytes, *, recalculated: bool) -> dict[tuple[int, int], str]:
    """Why a cell has no value that could be read, by row and column."""
    if not (_FORMULA.search(piece) or _ERROR_TYPE.search(piece)):
        return {}
    faults: dict[tuple[int, int], str] = {}
    for cell in _CELL_START.split(piece)[1:]:
        attributes, _, inside = cell.partition(b">")
        named = dict(_ATTRIBUTE.findall(attributes))
        kind, reference = named.get(b"t", b"n"), named.get(b"r", b"").decode("ascii", "replace")
        match = re.fullmatch(r"([A-Za-z]+)(\d+)", reference)
        formula = _FORMULA.search(inside) is not None
        if match is None or not (formula or kind == b"e"):
            continue
        value = _VALUE.search(inside)
        stored = value[1] if value is not None else None
        location = int(match[2]), column_number(match[1].encode())
        if kind == b"e":
            shown = (stored or b"an error").decode("utf-8", "replace")
            faults[location] = f"{reference} holds the error {shown}: type the value"
        elif not _has_result(kind, stored, inside, recalculated=recalculated):
            faults[location] = (
                f"{reference} holds a formula without a stored value: open the workbook in a spreadsheet program and "
                "save it, or type the value"
            )
    return faults


def _has_result(kind: bytes, stored: bytes | None, inside: bytes, *, recalculated: bool) -> bool:
    """Whether a formula's result is stored with it; an empty text is one."""
    if kind in (b"str", b"inlineStr"):
        return stored is not None or b"<v" in inside or _INLINE.search(inside) is not None
    result = (stored or b"").strip()
    return result != b"" and not (recalculated and result == b"0")
