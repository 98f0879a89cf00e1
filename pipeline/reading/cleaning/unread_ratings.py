"""Cells of a rating that cannot be read: why, what may be proposed, and the sign that they may still show."""

from __future__ import annotations

import re

from draincurve.pipeline.reading.cleaning.denials import DENIED
from draincurve.pipeline.reading.cleaning.marks_beside import without_marks
from draincurve.pipeline.reading.cleaning.month_names import month_number
from draincurve.pipeline.reading.cleaning.name_similarity import one_letter_apart
from draincurve.pipeline.reading.cleaning.rating_meaning import HOW, LONGEST_RATING, RatingColumn, ReadRating
from draincurve.pipeline.reading.cleaning.rating_words import RATING_WORDS, rating_word
from draincurve.pipeline.reading.cleaning.working_table import words_setting
from draincurve.schemas.channels import RATING_HIGH, RATING_LOW

SHORTEST_MISSPELT = 4
"""Shorter words are a letter away from too many others [letters]."""

_NUMBERS = re.compile(r"[-\d\s.,/]*\d[-\d\s.,/]*")
_DAY = re.compile(r"\d{4}-\d\d-\d\d.*")
_DAY_AND_MONTH = re.compile(r"\d{1,2}[. -]{0,2}([^\W\d]{3,})[. -]{0,2}\d*|([^\W\d]{3,})[. -]{1,2}\d+")
_DENIED = frozenset(rating_word(word) for word in ("free", *DENIED.split()))


def unread(typed: str, column: RatingColumn) -> ReadRating:
    """The reason why a cell is no rating, with what it may be."""
    plain = without_marks(typed)
    if plain != typed and re.fullmatch(r"[1-5](?:-[1-5])?", plain):
        low, high = sorted((int(plain[0]), int(plain[-1])))
        return ReadRating(low, high, "holds a mark beside the rating: write the rating alone", proposal=plain)
    if re.fullmatch(r"[1-5]-", typed):
        return _with_a_minus(int(typed[0]), typed, column)
    if _is_date(typed):
        reason = f"looks like a date: a spreadsheet turns a range such as 2-3 into one; {HOW}"
        return ReadRating(reason=reason, proposal=_range_of_date(typed))
    if not _NUMBERS.fullmatch(typed) and len(typed) <= LONGEST_RATING:
        setting = words_setting(column.channel.rating, typed, "", remark="1 to 5, or 2-3; empty: not rated")
        what = "word" if re.search(r"[^\W\d_]", typed) else "mark"
        reason = f"is no rating: {HOW}, or map the {what} in the settings"
        meant = _misspelt(typed, column)
        sign = _sign_in(typed if meant is None else meant, column)
        return ReadRating(None, sign, reason, proposal=meant, setting=setting)
    return ReadRating(reason=f"is no rating: {HOW}")


def _with_a_minus(level: int, typed: str, column: RatingColumn) -> ReadRating:
    reason = f"may be better than {level}, or a range whose end is missing: {HOW}"
    better, range_up = f"{level - 1}-{level}", f"{level}-{level + 1}"
    remark = " or ".join([better] * (level > RATING_LOW) + [range_up] * (level < RATING_HIGH))
    setting = words_setting(column.channel.rating, typed, "", remark=f"{remark}; empty: not rated")
    low, high = max(level - 1, RATING_LOW), min(level + 1, RATING_HIGH)
    return ReadRating(low, high, reason, setting=setting)


def _is_date(typed: str) -> bool:
    match = _DAY_AND_MONTH.fullmatch(typed)
    return _DAY.fullmatch(typed) is not None or (match is not None and month_number(match[1] or match[2]) is not None)


def _sign_in(typed: str, column: RatingColumn) -> int | None:
    """The level of a sign, such as flakes, that a word in an unread rating names and no word before it denies."""
    sign = column.channel.sign
    known = RATING_WORDS[column.channel.name]
    denied = False
    for word in (rating_word(word) for word in re.findall(r"[^\W\d_]+", typed)):
        if sign is not None and not denied and known.get(word, "")[-1:] == str(sign.level):
            return sign.level
        denied = denied or word in _DENIED
    return None


def _misspelt(typed: str, column: RatingColumn) -> str | None:
    """A word of the scale or the trade that a word is one slip of the pen away from, if all such mean the same."""
    word, known = rating_word(typed), RATING_WORDS[column.channel.name]
    near = [one for one in known if min(len(word), len(one)) >= SHORTEST_MISSPELT and one_letter_apart(word, one)]
    return near[0] if len({known[one] for one in near}) == 1 else None


def _range_of_date(typed: str) -> str | None:
    """The range that a spreadsheet may have turned into a date: 2026-03-02 was 2-3 or 3-2."""
    day = re.match(r"\d{4}-(\d\d)-(\d\d)", typed)
    levels = sorted((int(day[1]), int(day[2]))) if day is not None else []
    fits = levels and levels[0] >= RATING_LOW and levels[1] <= RATING_HIGH and levels[0] < levels[1]
    return f"{levels[0]}-{levels[1]}" if fits else None
