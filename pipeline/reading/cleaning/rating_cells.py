"""Cells that hold a rating: 1 to 5, a range such as 2-3, or the shop's own word for one."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl

from draincurve.pipeline.reading.cleaning.word_cells import is_blank
from draincurve.schemas.channels import RATING_HIGH, RATING_LOW

_ONE = re.compile(r"(?P<about>~|≈)?\s*(?P<level>\d+)(?:[.,]0+)?\s*(?P<doubt>\?)?")
_RANGE = re.compile(r"(?P<low>\d)\s*(?P<between>-|–|—|−|/|\.\.\.?|to|or|bis)\s*(?P<high>\d)", re.IGNORECASE)
_DATE = re.compile(r"\d{4}-\d\d-\d\d.*|\d{1,2}[- ]?[A-Za-z]{3,}[- ]?\d*|[A-Za-z]{3,}[- ]\d+")
_HOW = "write a whole number from 1 to 5, or a range such as 2-3"


@dataclass(frozen=True, slots=True)
class ReadRating:
    """Lowest and highest level that a rating may mean, or the reason why it cannot be read; perhaps a note."""

    low: int | None = None
    high: int | None = None
    reason: str | None = None
    note: str | None = None


def read_ratings(texts: pl.Series, words: Mapping[str, str]) -> pl.DataFrame:
    """Ratings of a column.

    texts : String, shape (n,), as typed. words : rating or range of each of the shop's words, which are casefolded.
    Returns columns low, high (Int64, null when not rated), reason and note, shape (n,).
    """
    read = [ReadRating() if text is None else read_rating(text, words) for text in texts]
    return pl.DataFrame(
        [(rating.low, rating.high, rating.reason, rating.note) for rating in read],
        schema={"low": pl.Int64, "high": pl.Int64, "reason": pl.String, "note": pl.String},
        orient="row",
    )


def read_rating(text: str, words: Mapping[str, str]) -> ReadRating:
    """One rating as typed. A blank is not rated, 0 is not a level, and words count only if the settings map them."""
    typed = text.strip()
    mapped = words.get(re.sub(r"\s+", " ", typed.casefold()))
    if mapped is not None:
        inner = read_rating(mapped, {})
        note = None if inner.reason else f"'{typed}' is read as {mapped or 'not rated'}, as the settings say"
        reason = f"is mapped to '{mapped}' in the settings, which is no rating: {_HOW}" if inner.reason else None
        return ReadRating(inner.low, inner.high, reason, note)
    if is_blank(typed):
        return ReadRating()
    one = _ONE.fullmatch(typed)
    if one is not None:
        return _one_level(typed, one)
    between = _RANGE.fullmatch(typed)
    if between is not None:
        return _range(typed, between)
    return ReadRating(reason=_why_not(typed))


def _one_level(typed: str, match: re.Match[str]) -> ReadRating:
    level = int(match["level"][:9])
    if level == 0:
        return ReadRating(
            reason="0 is no level of the scale, and not clean: leave the cell blank if it was not rated"
        )
    if not RATING_LOW <= level <= RATING_HIGH:
        return ReadRating(reason=f"is not on the scale: {_HOW}")
    rough = match["about"] or match["doubt"]
    return ReadRating(level, level, None, f"'{typed}' is approximate: kept as {level}" if rough else None)


def _range(typed: str, match: re.Match[str]) -> ReadRating:
    low, high = sorted((int(match["low"]), int(match["high"])))
    if low < RATING_LOW or high > RATING_HIGH:
        return ReadRating(reason=f"is not on the scale: {_HOW}")
    if match["between"] == "/" and high == RATING_HIGH and int(match["high"]) == RATING_HIGH:
        if high - low > 1:
            return ReadRating(reason=f"may be {low} out of 5 or a range: {_HOW}")
        return ReadRating(low, high, None, f"'{typed}' is read as the range {low}-{high}")
    return ReadRating(low, high)


def _why_not(typed: str) -> str:
    if re.fullmatch(r"\d+[.,]\d+", typed):
        return f"is not a whole number: {_HOW}"
    if _DATE.fullmatch(typed):
        return f"looks like a date: a spreadsheet turns a range such as 2-3 into one; {_HOW}"
    return f"is no rating: {_HOW}, or map the word in the settings"
