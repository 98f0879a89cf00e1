"""Cells that hold a rating: 1 to 5, a range such as 2-3, a word of the scale or of the shop."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import polars as pl

from draincurve.pipeline.reading.cleaning.rating_meaning import HOW, LONGEST_RATING, RatingColumn, ReadRating
from draincurve.pipeline.reading.cleaning.rating_words import (
    NOT_RATED,
    NOTHING_FOUND,
    RATING_WORDS,
    SCALE_WORDS,
    rating_word,
)
from draincurve.pipeline.reading.cleaning.unread_ratings import unread
from draincurve.pipeline.reading.cleaning.word_cells import is_blank
from draincurve.pipeline.reading.cleaning.working_table import words_setting
from draincurve.schemas.channels import CHANNELS, RATING_HIGH, RATING_LOW, Channel

_TO = r"-|–|—|−|/|\.\.\.?|…|&|to|or|and|bis|oder|und|à|a|ou|et|o|y|e"
_ONE = re.compile(
    r"(?P<about>~|≈|ca\.?|about)?\s*(?P<level>\d{1,9})(?:[.,]0+)?\s*(?P<doubt>\?|-?ish)?", re.IGNORECASE
)
_RANGE = re.compile(rf"(?:between\s+)?(?P<low>\d)\s*(?P<between>{_TO})\s*(?P<high>\d)", re.IGNORECASE)
_OF_FIVE = re.compile(r"(?P<low>\d)\s*(?:out of|of|von|sur|de|su)\s*5", re.IGNORECASE)
_BETWEEN = re.compile(r"(?P<level>\d)\s*(?:[.,](?P<decimals>\d+)|(?P<more>\++)|(?P<half>½|1/2))")
_BOUND = re.compile(
    r"(?:(?P<below><|<=|≤|max\.?|up to|bis)|(?P<above>>|>=|≥|min\.?|at least|ab))\s*(?P<level>\d)"
    r"|(?P<number>\d)\s*(?:(?P<most>max)|min)\.?",
    re.IGNORECASE,
)
_PERHAPS = re.compile(r"(?P<low>\d)\s*\(\s*(?P<high>\d)\s*\?*\s*\)")
_ROMAN = {"i": 1, "ii": 2, "iii": 3, "iv": 4, "v": 5}
_NUMBER_WORDS = (
    "one two three four five",
    "eins zwei drei vier fünf",
    "un deux trois quatre cinq",
    "uno dos tres cuatro cinco",
    "uno due tre quattro cinque",
)
_NUMBERS = {word: level for words in _NUMBER_WORDS for level, word in enumerate(words.split(), 1)}
_WITH_WORD = re.compile(
    r"(?P<level>\d)\s*[-–:=.,)(]*\s*(?P<word>[^\W\d_].*?)\)?|(?P<first>[^\d(]+?)\s*\(?(?P<after>\d)\)?"
)


def read_ratings(texts: pl.Series, words: Mapping[str, str], *, channel: Channel = CHANNELS[0]) -> pl.DataFrame:
    """Ratings of a column.

    texts : String, shape (n,), as typed. words : rating or range of each of the shop's words, which are casefolded.
    Returns columns low, high (Int64, null when not rated), reason, note, asked, proposal and setting, shape (n,).
    """
    typed = ["" if text is None else text.strip() for text in texts]
    column = _column(typed, words, channel)
    names = ReadRating.__slots__
    read = [_read(text, column) for text in typed]
    return pl.DataFrame(
        [[getattr(rating, name) for name in names] for rating in read],
        schema={"low": pl.Int64, "high": pl.Int64} | dict.fromkeys(names[2:], pl.String),
        orient="row",
    )


def read_rating(text: str, words: Mapping[str, str], *, channel: Channel = CHANNELS[0]) -> ReadRating:
    """One rating as typed, on its own. A blank is not rated, and 0 is not a level."""
    typed = text.strip()
    return _read(typed, _column([typed], words, channel))


def _column(typed: Sequence[str], words: Mapping[str, str], channel: Channel) -> RatingColumn:
    roman = any(len(text) > 1 and text.lower() in _ROMAN for text in typed)
    return RatingColumn(channel, words, _meaning_of_slash(typed), _has_words(typed, channel), roman)


def _meaning_of_slash(texts: Sequence[str]) -> str:
    """What ratings such as 4/5 are in a column.

    They are of five where each ends in 5 and one would be no likely range (1/5, 2/5, 5/5); ranges where each ends in
    its neighbour and one does not end in 5. Otherwise it is not clear, nor where others are typed "3 of 5".
    """
    fractions = [match for text in texts if (match := _RANGE.fullmatch(text)) is not None and match["between"] == "/"]
    pairs = {(int(match["low"]), int(match["high"])) for match in fractions}
    all_in_five = all(high == RATING_HIGH for _, high in pairs)
    if all_in_five:
        return "of five" if any(low not in (3, 4) for low, _ in pairs) else "either"
    others_of_five = any(high == RATING_HIGH for _, high in pairs) and any(map(_OF_FIVE.fullmatch, texts))
    return "range" if all(abs(high - low) == 1 for low, high in pairs) and not others_of_five else "either"


def _has_words(texts: Iterable[str], channel: Channel) -> bool:
    known = RATING_WORDS[channel.name]
    return any(
        text not in NOTHING_FOUND and rating_word(text) in known for text in texts if len(text) <= LONGEST_RATING
    )


def _read(typed: str, column: RatingColumn) -> ReadRating:
    mapped = column.words.get(re.sub(r"\s+", " ", typed.casefold()))
    if mapped is not None:
        inner = _read(mapped, replace(column, words={}))
        note = None if inner.reason else f"'{typed}' is read as {mapped or 'not rated'}, as the settings say"
        reason = f"is mapped to '{mapped}' in the settings, which is no rating: {HOW}" if inner.reason else None
        return ReadRating(inner.low, inner.high, reason, note)
    if typed in NOTHING_FOUND and "none found" in RATING_WORDS[column.channel.name]:
        return _nothing_found(typed, column)
    if is_blank(typed) or rating_word(typed) in NOT_RATED:
        return ReadRating()
    level = _ROMAN.get(typed.lower()) if column.roman else None
    level = level or _NUMBERS.get(typed.casefold())
    if level is not None:
        return ReadRating(level, level, None, f"'{typed}' is read as {level}")
    one = _ONE.fullmatch(typed)
    if one is not None:
        return _one_level(typed, one)
    return _several_levels(typed, column) or _in_a_word(typed, column) or unread(typed, column)


def _nothing_found(typed: str, column: RatingColumn) -> ReadRating:
    """Nothing was found where other cells are words of the scale; among numbers it may be an empty cell."""
    if column.in_words:
        return ReadRating(RATING_LOW, RATING_LOW, None, f"'{typed}' is read as {RATING_LOW}: none found")
    setting = words_setting(column.channel.rating, typed, str(RATING_LOW))
    return ReadRating(asked="is it none found, or was it not looked at? It is taken as not rated", setting=setting)


def _one_level(typed: str, match: re.Match[str]) -> ReadRating:
    level = int(match["level"])
    if level == 0:
        return ReadRating(
            reason="0 is no level of the scale, and not clean: leave the cell blank if it was not rated"
        )
    if not RATING_LOW <= level <= RATING_HIGH:
        return ReadRating(reason=f"is not on the scale: {HOW}")
    rough = match["about"] or match["doubt"]
    return ReadRating(level, level, None, f"'{typed}' is approximate: kept as {level}" if rough else None)


def _several_levels(typed: str, column: RatingColumn) -> ReadRating | None:
    """Ranges, halves, bounds, and levels out of five."""
    if (match := _BETWEEN.fullmatch(typed)) is not None:
        low = int(match["level"])
        whole = match["decimals"] is not None and int(match["decimals"]) == 0
        high = low if whole else min(low + 1, RATING_HIGH) if match["more"] else low + 1
        return _on_scale(low, high, note=f"'{typed}' is read as {_rating_text(low, high)}")
    if (match := _OF_FIVE.fullmatch(typed)) is not None:
        level = int(match["low"])
        return _on_scale(level, level, note=f"'{typed}' is read as {level}")
    if (match := _RANGE.fullmatch(typed)) is not None:
        return _range(typed, match, column=column)
    if (match := _PERHAPS.fullmatch(typed)) is not None and abs(int(match["low"]) - int(match["high"])) == 1:
        low, high = sorted((int(match["low"]), int(match["high"])))
        return _on_scale(low, high, note=f"'{typed}' is read as {_rating_text(low, high)}")
    if (match := _BOUND.fullmatch(typed)) is not None:
        level = int(match["level"] or match["number"])
        low, high = (RATING_LOW, level) if match["below"] or match["most"] else (level, RATING_HIGH)
        return _on_scale(low, high, note=f"'{typed}' is read as {_rating_text(low, high)}") if low != high else None
    return None


def _range(typed: str, match: re.Match[str], *, column: RatingColumn) -> ReadRating:
    first, last = int(match["low"]), int(match["high"])
    low, high = sorted((first, last))
    if match["between"] == "/" and last == RATING_HIGH and column.slash != "range":
        if column.slash == "of five":
            return _on_scale(first, first, note=f"'{typed}' is read as {first} out of 5")
        if RATING_LOW <= first < last:
            asked = f"is it {first} out of 5, or the range {_rating_text(low, high)}? It is taken as the range"
            setting = words_setting(column.channel.rating, typed, str(first))
            return ReadRating(low, high, asked=asked, proposal=str(first), setting=setting)
    note = f"'{typed}' is read as the range {_rating_text(low, high)}" if match["between"] == "/" else None
    return _on_scale(low, high, note=note)


def _on_scale(low: int, high: int, *, note: str | None = None) -> ReadRating:
    if low < RATING_LOW or high > RATING_HIGH:
        return ReadRating(reason=f"is not on the scale: {HOW}")
    return ReadRating(low, high, None, note)


def _in_a_word(typed: str, column: RatingColumn) -> ReadRating | None:
    """A word of the scale or of the trade, perhaps with its level beside it."""
    known = RATING_WORDS[column.channel.name]
    if len(typed) > LONGEST_RATING:
        return None
    match = _WITH_WORD.fullmatch(typed)
    meant = known.get(rating_word(typed if match is None else match["word"] or match["first"]))
    if meant is None:
        return None
    low, high = int(meant[0]), int(meant[-1])
    if match is not None:
        level = int(match["level"] or match["after"])
        if low <= level <= high:
            return ReadRating(level, level)
        return ReadRating(reason=f"the word is {meant} on the scale, the number is {level}: write the right one")
    if any(mark.isdigit() for mark in typed):
        return None
    whose = "on the scale" if rating_word(typed) in SCALE_WORDS[column.channel.name] else "as workshops use the word"
    note = f"'{typed}' is read as {meant}, {whose}"
    return ReadRating(low, high, None, note)


def _rating_text(low: int, high: int) -> str:
    return str(low) if low == high else f"{low}-{high}"
