"""The bounds of what is read, each with its reason. A file past one is refused, or its row held back, by name."""

from __future__ import annotations

LONGEST_CELL = 32_767
"""Characters of a cell: what a cell of a workbook holds. A longer one is a damaged file or a quotation mark that was
never closed."""

LONGEST_RECORD_LINES = 100
"""Physical lines of one record of a CSV file. No bench note has more, and looking further for the end of a stray
quotation mark would take time that grows with the square of the file."""
