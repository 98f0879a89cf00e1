"""CSV files as text: every record keeps the line on which it starts."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path

import polars as pl

from draincurve.pipeline.reading.sources.csv_records import Record, RecordForm, records_from
from draincurve.pipeline.reading.sources.csv_start import SEPARATORS, CsvStart, OpenedCsv, needed_cells, opened_csv
from draincurve.pipeline.reading.sources.decimal_commas import shifted_rows
from draincurve.pipeline.reading.sources.header_row import stray_fault
from draincurve.pipeline.reading.sources.reading_options import DEFAULT_OPTIONS, ReadingOptions
from draincurve.pipeline.reading.sources.source_table import (
    FAULT,
    LINE,
    SURPLUS,
    SourceTable,
    digest,
    file_bytes,
    with_headers,
)
from draincurve.pipeline.reading.sources.split_notes import split_notes

USUAL_SHARE = 0.9
"""Share of a file's rows that must have the same width for it to be the usual one."""

_Fault = tuple[int, str | None, str | None]
"""First line of a record, why it is held back (None where it is not), and its surplus cells."""


def read_csv_file(path: Path, table: str, options: ReadingOptions = DEFAULT_OPTIONS) -> SourceTable:
    """A CSV file as typed.

    The encoding is found by `decoded_text`. The delimiter is `,`, `;` or tab, whichever gives the most headers and
    splits the rows most evenly, or else a bar, unless a first line such as `sep=;` declares it. Titles above the
    header are no rows; lines without content are skipped and do not count as rows. Rows with bytes that are no text,
    or with a quotation mark that encloses rows below, are held back. Raises SourceError for an empty file, and for
    one that is no text.
    """
    content = file_bytes(path)
    opened = opened_csv(content, path, table=table, columns_of=options.columns_of)
    start, decoded = opened.start, opened.decoded
    cells, line_columns, joined = _rows(opened, table)
    if line_columns.get_column(FAULT).null_count() == line_columns.height:
        line_columns = line_columns.select(LINE)
    frame, headers = with_headers(cells, start.header, line_columns=line_columns)
    notes = (*decoded.notes, *start.notes, *joined)
    return SourceTable(table, path.name, digest(content), frame, notes, headers, beside=start.titles)


def _rows(opened: OpenedCsv, table: str) -> tuple[pl.DataFrame, pl.DataFrame, tuple[str, ...]]:
    """Cells and own columns of the rows among the lines of a text, and a note on those that are joined.

    Polars splits the lines whose quotation marks, if there are any, enclose whole cells: nearly all. It cannot be
    trusted with others, so the csv module reads each other record, from the line on which it starts.
    """
    lines, start = opened.lines, opened.start
    header, delimiter = start.header, start.form.delimiter
    rows = pl.DataFrame({LINE: pl.int_range(1, lines.len() + 1, eager=True), "text": lines})
    rows = rows.filter(~pl.col(LINE).is_in(start.not_rows))
    quoted: list[Record] = []
    if b'"' in opened.encoded:
        cell = f'(?:"(?:[^"\\r\\n]|"")*"|[^"{delimiter}]*)'
        regular = pl.col("text").str.contains(f"^{cell}(?:{delimiter}{cell})*$")
        starts = rows.filter(pl.col("text").str.contains('"', literal=True)).filter(~regular).get_column(LINE)
        quoted = list(records_from(lines, starts.to_list(), start.form))
        inside = [line for record in quoted for line in range(record.start, record.end + 1)]
        rows = rows.filter(~pl.col(LINE).is_in(inside)) if inside else rows
    rows = rows.filter(pl.col("text").str.contains(rf'[^\s"{delimiter}]'))
    if b"\r" in opened.encoded:
        rows = rows.with_columns(pl.col("text").str.strip_chars_end("\r\n"))
    encoded = opened.encoded
    is_whole = start.not_rows == (1,) and rows.height == lines.len() - 1 and '"' not in lines[0]
    if not is_whole or b"\r" in encoded:
        joined = rows.get_column("text").str.join("\n").item()
        names = delimiter.join(f"field_{index}" for index in range(len(header)))
        encoded = f"{names}\n{joined}".encode()
    cells = _split_by_polars(encoded, delimiter, width=len(header))
    uneven = _uneven(rows, cells, header=header, delimiter=delimiter)
    notes = split_notes(uneven, cells, table, columns=start.form.columns, delimiter=delimiter)
    uneven = [record for record in uneven if record.start not in notes]
    cells = cells.with_columns(rows.get_column(LINE))
    if notes:
        joined = pl.col(LINE).replace_strict(notes, default=pl.col(cells.columns[-2]), return_dtype=pl.String)
        cells = cells.with_columns(joined.alias(cells.columns[-2]))
    filled = [record for record in quoted if record.has_content]
    if filled:
        fields = [[*record.cells, *[None] * len(header)][: len(header)] for record in filled]
        read = pl.DataFrame(fields, schema=cells.drop(LINE).schema, orient="row")
        cells = pl.concat([cells, read.with_columns(pl.Series(LINE, [record.start for record in filled]))]).sort(LINE)
    usual = _usual_width([*uneven, *filled], rows=cells.height)
    faults = [_fault(record, header, delimiter=delimiter, usual=usual) for record in (*uneven, *filled)]
    line_columns = _own_columns(cells.get_column(LINE), faults)
    by_line = _faults_of_lines(start, opened.decoded.bad_lines, quoted)
    if delimiter == ",":
        by_line = _shifted_faults(cells, table, start.form, wider=usual is not None and usual > len(header)) | by_line
    said = f"{len(notes)} rows have '{delimiter}' in their note without quotation marks: its parts are joined"
    return cells.drop(LINE), _with_faults(line_columns, by_line), (said,) if notes else ()


def _shifted_faults(cells: pl.DataFrame, table: str, form: RecordForm, *, wider: bool) -> dict[int, str]:
    """Why rows are held back that decimal commas have shifted, by line. wider : whether nearly all rows are."""
    typed = cells.drop(LINE)
    numbers = shifted_rows(typed, table, form.columns, with_blank_end=wider)
    if numbers is None:
        return {}
    return {
        line: f"looks like a decimal comma without quotation marks: is it '{number}'? Put it in quotation marks, or "
        "separate cells by semicolons"
        for line, number in zip(cells.get_column(LINE), numbers, strict=True)
        if number is not None
    }


def _faults_of_lines(start: CsvStart, bad_lines: Mapping[int, str], quoted: Sequence[Record]) -> dict[int, str]:
    """Why rows are held back whatever their cells, by the line on which each starts."""
    faults = dict.fromkeys(start.strays, stray_fault(start.line)) | dict(bad_lines)
    if bad_lines:
        for record in quoted:
            inside = [bad_lines[line] for line in range(record.start, record.end + 1) if line in bad_lines]
            faults |= {record.start: inside[0]} if inside else {}
    return faults


def _with_faults(line_columns: pl.DataFrame, faults: Mapping[int, str]) -> pl.DataFrame:
    if not faults:
        return line_columns
    fault_rows = pl.DataFrame(
        {LINE: list(faults), "why": list(faults.values())}, schema={LINE: pl.Int64, "why": pl.String}
    )
    joined = line_columns.join(fault_rows, on=LINE, how="left", maintain_order="left")
    return joined.with_columns(pl.coalesce("why", FAULT).alias(FAULT)).drop("why")


def _split_by_polars(encoded: bytes, delimiter: str, *, width: int) -> pl.DataFrame:
    """Cells of lines below a header, each one regular record; null where a line is short of cells."""
    cells = pl.read_csv(
        encoded,
        separator=delimiter,
        quote_char='"' if b'"' in encoded else None,
        infer_schema=False,
        truncate_ragged_lines=True,
    )
    cells.columns = [f"field_{index}" for index in range(width)]
    return cells


def _uneven(rows: pl.DataFrame, cells: pl.DataFrame, *, header: list[str], delimiter: str) -> list[Record]:
    """Regular records with fewer or more cells than the header.

    A line that fits is as long as its cells and the delimiters between them, which is quick to see. Delimiters are
    counted only in the others, and in lines with quotation marks, inside of which they do not count.
    """
    text = pl.col("text")
    cells_length = cells.select(pl.sum_horizontal(pl.all().str.len_bytes())).to_series()
    fits = text.str.len_bytes() == cells_length + len(header) - 1
    marks = text.str.replace_all('"[^"]*"', "").str.count_matches(delimiter, literal=True)
    doubtful = rows.filter(~fits | text.str.contains('"', literal=True))
    uneven = doubtful.filter((marks + 1 != len(header)) & (marks + 1 != needed_cells(header)))
    records = ((line, next(csv.reader([typed], delimiter=delimiter))) for line, typed in uneven.iter_rows())
    return [Record(line, line, cells_of_line) for line, cells_of_line in records]


def _usual_width(uneven: Sequence[Record], *, rows: int) -> int | None:
    """The width that nearly all rows of a file have, where it is not the header's."""
    widths = Counter(len(record.cells) for record in uneven).most_common(1)
    return widths[0][0] if widths and widths[0][1] >= USUAL_SHARE * rows else None


def _fault(record: Record, header: list[str], *, delimiter: str, usual: int | None) -> _Fault:
    """Why a record is held back, and its surplus cells.

    Blank surplus cells do no harm where nearly all rows have them. In a single row they are a sign that a delimiter
    inside a cell has moved the cells after it.
    """
    start, cells = record.start, record.cells
    needed = needed_cells(header)
    if record.fault is not None:
        return start, record.fault, " | ".join(cells[len(header) :]) or None
    if len(cells) < needed:
        what = f"the row has {len(cells)} cells, the header has {needed}"
        others = [mark for mark in SEPARATORS if mark != delimiter and _parts(cells, mark) >= needed]
        if not others:
            return start, f"{what}: a cell is missing", None
        return (
            start,
            f"{what}: its parts have {SEPARATORS[others[0]]} between them, write {SEPARATORS[delimiter]}",
            None,
        )
    surplus = cells[len(header) :]
    is_blank = not any(cell.strip() for cell in surplus)
    if is_blank and len(cells) in (needed, len(header), usual):
        return start, None, None
    marks = {",": "a decimal comma or a comma", ";": "a semicolon", "\t": "a tab", "|": "a bar"}
    why = f"the row has {len(cells)} cells, the header has {needed}: is there {marks[delimiter]} in a cell?"
    return start, f"{why} put that cell in quotation marks", None if is_blank else " | ".join(surplus)


def _parts(cells: Sequence[str], mark: str) -> int:
    """Parts of a row that another mark parts."""
    return sum(cell.count(mark) for cell in cells) + 1


def _own_columns(lines: pl.Series, faults: list[_Fault]) -> pl.DataFrame:
    """`_line`, `_fault` and `_surplus` for every row."""
    fault_rows = pl.DataFrame(faults, schema={LINE: pl.Int64, FAULT: pl.String, SURPLUS: pl.String}, orient="row")
    return lines.to_frame(LINE).join(fault_rows, on=LINE, how="left", maintain_order="left")
