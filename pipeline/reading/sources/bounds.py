"""The bounds of what is read, each with its reason. A file past one is refused, or its row held back, by name."""

from __future__ import annotations

from draincurve.schemas.errors import SourceError

LONGEST_CELL = 32_767
"""Characters of a cell: what a cell of a workbook holds. A longer one is a damaged file or a quotation mark that was
never closed."""

LONGEST_RECORD_LINES = 100
"""Physical lines of one record of a CSV file. No bench note has more, and looking further for the end of a stray
quotation mark would take time that grows with the square of the file."""

MOST_FILE_BYTES = 2_000_000_000
"""Bytes of a file. All of it is held in memory, several times over while it is read."""

MOST_UNPACKED_BYTES = 600_000_000
"""Bytes of a workbook's parts when unpacked. The sheet of half a million drains has some 400 MB; a file of 2 MB can
unpack to gigabytes."""

MOST_PARTS = 10_000
"""Files in a workbook's archive; one with 250 sheets has fewer than 2,000."""

MOST_SHEETS = 250
"""Sheets of a workbook; each is read and searched for a header."""

MOST_SHEET_CELLS = 12_000_000
"""Cells between a sheet's first and last: the reader holds every one of them, empty or not, some 30 bytes each."""

MOST_COLUMNS = 1_000
"""Columns of a table. The contract has some forty; every further one takes milliseconds and a finding."""

MOST_TEXT_BYTES = 400_000_000
"""Bytes of all texts of a sheet, each counted as often as cells refer to it."""

MOST_MARKED_CELLS = 1_000_000
"""Marked cells of a sheet: struck through, commented, or merged across columns. Each is an object in memory."""

MOST_COMMENT_BYTES = 20_000_000
"""Bytes of the comments of a sheet; 50,000 long ones have some 15 MB."""

READER_BYTES = 3_000_000_000
"""Address space of the process that reads a workbook of another format than XLSX, whose markup is not scanned
before. The reader's libraries reserve two thirds of it."""

READER_SECONDS = 120
"""Time of that process; 200,000 rows take some ten seconds."""


def refuse_many_columns(count: int, source: str) -> None:
    """Raise SourceError, naming the source and the bound, for a table of too many columns."""
    if count > MOST_COLUMNS:
        raise SourceError(
            f"{source}: has {count:,} columns; at most {MOST_COLUMNS:,} are read: leave out what is not the log's"
        )
