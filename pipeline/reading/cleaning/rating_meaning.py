"""What a rating's cell may mean, and what the cells of its column show together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from draincurve.schemas.channels import Channel

LONGEST_RATING = 60
"""A longer text is a note, not a rating [characters]."""
HOW = "write a whole number from 1 to 5, or a range such as 2-3"


@dataclass(frozen=True, slots=True)
class ReadRating:
    """Lowest and highest level that a rating may mean, or the reason why it cannot be read; perhaps a note.

    With a reason the levels are what it may be, since a sign in a row that is held back still counts.

    asked : a question about what is kept. proposal, setting : as in working_table.FINDINGS_SCHEMA
    """

    low: int | None = None
    high: int | None = None
    reason: str | None = None
    note: str | None = None
    asked: str | None = None
    proposal: str | None = None
    setting: str | None = None


@dataclass(frozen=True, slots=True)
class RatingColumn:
    """What the cells of a column show together.

    slash : what 4/5 is: "of five", "range", or "either" where that is not clear
    in_words : some cells are words of the scale, so that "none" is one too
    roman : some cells are Roman numerals of two letters or more, so that I and V are such numerals too
    """

    channel: Channel
    words: Mapping[str, str]
    slash: str
    in_words: bool
    roman: bool
