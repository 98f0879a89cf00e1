"""One drain to be added to a log, the rules for adding it, and the result."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from draincurve.schemas.columns import DRAINS
from draincurve.schemas.errors import DraincurveError
from draincurve.schemas.settings import Settings


class EntryError(DraincurveError):
    """A drain that was refused; the log is unchanged."""


class AskedError(EntryError):
    """A drain that was not added because it raises questions.

    questions : each in words; about_row : whether one is about the drain itself, which its writer can confirm
    """

    def __init__(self, questions: tuple[str, ...], *, about_row: bool) -> None:
        """The questions, and how to answer them, in one line."""
        super().__init__(
            f"not added: {'; '.join(questions)}; --yes adds it as given, and as confirmed where the log has that "
            "column: without it the question comes again"
        )
        self.questions, self.about_row = questions, about_row


@dataclass(frozen=True, slots=True)
class DrainEntry:
    """One drain: text of each of the contract's columns that was given, in the contract's order; none is blank."""

    cells: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class EntryRules:
    """The shop's settings, today's date, and what may be done.

    new_log, add_columns : whether a log or columns may be created
    despite_questions : whether a drain is added that raises questions
    as_confirmed : whether it is written as confirmed where the log has that column, which silences the questions
    """

    settings: Settings
    as_of: date
    new_log: bool = False
    add_columns: bool = False
    despite_questions: bool = False
    as_confirmed: bool = False


@dataclass(frozen=True, slots=True)
class AddedDrain:
    """A drain that was added: its location, its line as written, and what was asked or is to be said about it."""

    location: str
    written: str
    questions: tuple[str, ...]


def written_entry(entry: DrainEntry, columns: Collection[str], *, rules: EntryRules) -> DrainEntry:
    """The entry as it is written into a log with some of the contract's columns."""
    if rules.as_confirmed and "confirmed" in columns and "confirmed" not in entry.cells:
        return DrainEntry({**entry.cells, "confirmed": "yes"})
    return entry


DAYS_BY_NAME = {
    **dict.fromkeys(("today", "heute", "aujourd'hui", "hoy", "oggi"), 0),
    **dict.fromkeys(("yesterday", "gestern", "hier", "ayer", "ieri"), 1),
}
"""Words for a day, and how many days ago it is."""


def day_by_name(text: str | None, today: date) -> str | None:
    """A date as given, or the ISO date of a word such as today or yesterday."""
    ago = DAYS_BY_NAME.get((text or "").strip().casefold())
    return text if ago is None else (today - timedelta(days=ago)).isoformat()


def drain_entry(values: Mapping[str, str | None]) -> DrainEntry:
    """The drain that the options of a command describe.

    values : text of each of the contract's columns, None where it was not given. Runs of spaces and line ends become
    one space. Raises EntryError for a control character, and where nothing was given.
    """
    cells: dict[str, str] = {}
    for column in DRAINS:
        text = " ".join((values.get(column.name) or "").split())
        if not text.isprintable():
            raise EntryError(f"{column.name} = {text!r}: holds a control character; type it anew")
        if text:
            cells[column.name] = text
    if not cells:
        raise EntryError("nothing was given; name at least the unit, the date, the hours and a rating")
    return DrainEntry(cells)
