"""Files that somebody writes to while they are read: read once more, and said where that does not help."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.schemas.errors import SourceError

GROWING = (
    "was written to while it was read, twice in a row; its last rows may be missing or cut: read it again when "
    "nobody writes to it"
)


def steadily(path: Path, read: Callable[[], dict[str, SourceTable]]) -> dict[str, SourceTable]:
    """What `read` returns: at once where the file's size and time are the same after it, else from a second reading.

    Where they differ after that too, each table has a note that says so. Raises what `read` raises about a file that
    nobody wrote to meanwhile.
    """
    before = _state(path)
    try:
        tables = read()
    except SourceError:
        if _state(path) == before:
            raise
    else:
        if _state(path) == before:
            return tables
    before = _state(path)
    tables = read()
    if _state(path) == before:
        return tables
    return {name: replace(table, notes=(*table.notes, GROWING)) for name, table in tables.items()}


def _state(path: Path) -> tuple[int, int, int] | None:
    """Size, time of the last change and number of the file; None where there is none."""
    try:
        status = path.stat()
    except OSError:
        return None
    return status.st_size, status.st_mtime_ns, status.st_ino
