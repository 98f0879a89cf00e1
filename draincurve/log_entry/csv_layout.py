"""The format of a CSV log (encoding, line ends, delimiter, header), and its text with a row or column added."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from draincurve.log_entry.drain_entry import EntryError
from draincurve.pipeline.reading.sources import ColumnsOf, opened_csv


@dataclass(frozen=True, slots=True)
class CsvLayout:
    """A CSV text and its format.

    text : the whole file, without a byte order mark
    header : cells as typed
    skipped : lines before the header, which declare the delimiter or are titles
    all_quoted : whether every cell of the header is in quotation marks
    mark : the byte order mark, as text
    """

    text: str
    encoding: str
    delimiter: str
    newline: str
    header: tuple[str, ...]
    skipped: int = 0
    all_quoted: bool = False
    mark: str = ""

    @property
    def content(self) -> bytes:
        """The file's bytes. Raises EntryError for a letter that its encoding lacks."""
        try:
            return (self.mark + self.text).encode(self.encoding)
        except UnicodeEncodeError as fault:
            letter = self.text[fault.start]
            raise EntryError(
                f"'{letter}' cannot be written: the log is Windows-1252 text; save it as CSV UTF-8 first"
            ) from fault

    def row_text(self, cells: Sequence[str]) -> str:
        """One record in the format of this file, without a line end."""
        line = io.StringIO()
        dialect = csv.excel()
        dialect.delimiter, dialect.lineterminator = self.delimiter, ""
        dialect.quoting = csv.QUOTE_ALL if self.all_quoted else csv.QUOTE_MINIMAL
        csv.writer(line, dialect).writerow(cells)
        return line.getvalue()

    def with_row(self, cells: Sequence[str]) -> CsvLayout:
        """The same with one more record at the end."""
        gap = "" if not self.text or self.text.endswith(("\n", "\r")) else self.newline
        return replace(self, text=f"{self.text}{gap}{self.row_text(cells)}{self.newline}")

    def with_columns(self, names: Sequence[str]) -> CsvLayout:
        """The same with more columns at the right; the cells of every row stay as typed."""
        lines = list(io.StringIO(self.text, newline=""))
        reader = csv.reader(lines[self.skipped :], delimiter=self.delimiter)
        more = f"{self.delimiter}{self.row_text(names)}"
        for record in reader:
            if any(cell.strip() for cell in record):
                last = self.skipped + reader.line_num - 1
                body = lines[last].rstrip("\r\n")
                lines[last] = f"{body}{more}{lines[last][len(body) :]}"
                more = self.delimiter * len(names)
        return replace(self, text="".join(lines), header=(*self.header, *names))


def new_layout(columns: Sequence[str]) -> CsvLayout:
    """A new log: UTF-8, commas, one line that names the columns."""
    return CsvLayout(f"{','.join(columns)}\n", "utf-8", ",", "\n", tuple(columns))


def csv_layout(content: bytes, path: Path, *, columns_of: ColumnsOf) -> CsvLayout:
    """The format of a file that the CSV reader accepts; columns_of : finds its header.

    Raises SourceError as the reader does, and EntryError for a file with bytes that are no text.
    """
    opened = opened_csv(content, path, table="drains", columns_of=columns_of)
    decoded, start = opened.decoded, opened.start
    text = decoded.text
    if decoded.bad_lines:
        line, why = next(iter(decoded.bad_lines.items()))
        raise EntryError(f"{path}: line {line} {why}; then add the drain")
    if start.form.delimiter == "|":
        raise EntryError(
            f"{path}: its cells are between bars; save it with semicolons or as a workbook to add drains"
        )
    first_line = io.StringIO(text, newline="").readline()
    layout = CsvLayout(
        text=text,
        encoding=decoded.encoding,
        delimiter=start.form.delimiter,
        newline=first_line[len(first_line.rstrip("\r\n")) :] or "\n",
        header=tuple(start.header),
        skipped=start.line - 1,
        mark=decoded.mark,
    )
    quoted = replace(layout, all_quoted=True)
    return quoted if opened.lines[start.line - 1].startswith(quoted.row_text(start.header)) else layout
