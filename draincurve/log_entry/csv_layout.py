"""The format of a CSV log (encoding, line ends, delimiter, header), and its text with a row or column added."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from draincurve.log_entry.drain_entry import EntryError
from draincurve.pipeline.reading.sources import declared_delimiter, decoded, sniffed_delimiter

WINDOWS = "cp1252"


@dataclass(frozen=True, slots=True)
class CsvLayout:
    """A CSV text and its format.

    text : the whole file, without a byte order mark
    header : cells as typed
    skipped : lines before the header that declare the delimiter
    all_quoted : whether every cell of the header is in quotation marks
    """

    text: str
    encoding: str
    delimiter: str
    newline: str
    header: tuple[str, ...]
    skipped: int = 0
    all_quoted: bool = False

    @property
    def content(self) -> bytes:
        """The file's bytes. Raises EntryError for a letter that its encoding lacks."""
        try:
            return self.text.encode(self.encoding)
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


def csv_layout(content: bytes, path: Path) -> CsvLayout:
    """The format of a file that the CSV reader accepts. Raises SourceError as the reader does."""
    text, notes = decoded(content, path)
    below, delimiter, skipped = declared_delimiter(text)
    delimiter = delimiter or sniffed_delimiter(below)
    first_line = io.StringIO(text, newline="").readline()
    newline = first_line[len(first_line.rstrip("\r\n")) :] or "\n"
    records = csv.reader(io.StringIO(below, newline=""), delimiter=delimiter)
    header = next(record for record in records if any(cell.strip() for cell in record))
    layout = CsvLayout(text, _encoding(content, notes), delimiter, newline, tuple(header), skipped)
    quoted = replace(layout, all_quoted=True)
    return quoted if below.lstrip("\r\n").startswith(quoted.row_text(header)) else layout


def _encoding(content: bytes, notes: tuple[str, ...]) -> str:
    """UTF-8 with or without a byte order mark; Windows-1252 where the reader notes that it is not UTF-8."""
    if content.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    return WINDOWS if notes else "utf-8"
