"""Positions of the contract's columns in a log, and the columns that the log lacks."""

from __future__ import annotations

from collections.abc import Sequence

from draincurve.log_entry.drain_entry import DrainEntry, EntryError, EntryRules
from draincurve.pipeline.reading.cleaning import match_header


def columns_of(header: Sequence[str]) -> dict[str, int]:
    """Position in a header of each of the contract's columns, chosen as when the log is read."""
    found: dict[str, list[tuple[int, bool]]] = {}
    for index, cell in enumerate(header):
        match = match_header(cell, "drains")
        if match is not None:
            found.setdefault(match.column, []).append((index, match.exact))
    exact = {column: [index for index, own in matches if own] for column, matches in found.items()}
    return {
        column: exact[column][0] if len(exact[column]) == 1 else matches[0][0] for column, matches in found.items()
    }


def missing_columns(entry: DrainEntry, header: Sequence[str], *, log: str, rules: EntryRules) -> list[str]:
    """Columns that the entry needs and the log lacks. Raises EntryError where none may be added.

    log : the log's name in words
    """
    known = columns_of(header)
    missing = [name for name in entry.cells if name not in known]
    if missing and not rules.add_columns:
        raise EntryError(
            f"{log}: has no column {', '.join(missing)}; add {'it' if len(missing) == 1 else 'them'} to the log, or "
            "let --add-columns do it"
        )
    return missing
