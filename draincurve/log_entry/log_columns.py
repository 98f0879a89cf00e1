"""Positions of the contract's columns in a log, and the columns that the log lacks."""

from __future__ import annotations

from collections.abc import Sequence

from draincurve.log_entry.drain_entry import DrainEntry, EntryError, EntryRules
from draincurve.pipeline.reading.cleaning import header_positions


def columns_of(header: Sequence[str], *, rules: EntryRules) -> dict[str, int]:
    """Position in a header of each of the contract's columns, chosen as when the log is read."""
    return header_positions(header, "drains", rules.settings.headers)


def missing_columns(entry: DrainEntry, header: Sequence[str], *, log: str, rules: EntryRules) -> list[str]:
    """Columns that the entry needs and the log lacks. Raises EntryError where none may be added.

    log : the log's name in words
    """
    known = columns_of(header, rules=rules)
    missing = [name for name in entry.cells if name not in known]
    if missing and not rules.add_columns:
        raise EntryError(
            f"{log}: has no column {', '.join(missing)}; add {'it' if len(missing) == 1 else 'them'} to the log, or "
            "let --add-columns do it"
        )
    return missing
