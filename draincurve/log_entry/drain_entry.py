"""What the bench says about one drain, and what came of writing it down."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from draincurve.schemas.columns import DRAINS
from draincurve.schemas.errors import DraincurveError
from draincurve.schemas.settings import Settings


class EntryError(DraincurveError):
    """A drain that is not added; the log is as it was."""


@dataclass(frozen=True, slots=True)
class DrainEntry:
    """One drain: the contract's column to the text that was given, in the contract's order; no cell is blank."""

    cells: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class EntryRules:
    """How a drain is taken: the shop's policy, the day of today, and whether file and columns may be made."""

    settings: Settings
    as_of: date
    new_log: bool = False
    add_columns: bool = False


@dataclass(frozen=True, slots=True)
class AddedDrain:
    """A drain that is in the log now: where, the line as it stands there, and what is asked about it."""

    place: str
    written: str
    questions: tuple[str, ...]


def drain_entry(given: Mapping[str, str | None]) -> DrainEntry:
    """The drain of some options.

    given : the contract's column to the text of its option, None where it was not given. Runs of spaces and line
    ends become one space. Raises EntryError for a control character, which no log can show.
    """
    cells: dict[str, str] = {}
    for column in DRAINS:
        text = " ".join((given.get(column.name) or "").split())
        if not text.isprintable():
            raise EntryError(f"{column.name} = {text!r}: holds a control character; type it anew")
        if text:
            cells[column.name] = text
    if not cells:
        raise EntryError("nothing was given; name at least the unit, the date, the hours and a rating")
    return DrainEntry(cells)
