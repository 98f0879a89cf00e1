"""Ratings 1 to 5, ranges such as 2-3, and the shop's own words for them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl

from draincurve.pipeline.reading.cleaning.quantity_cells import is_blank
from draincurve.schemas.channels import RATING_HIGH, RATING_LOW

_ONE = re.compile(r"(?P<about>~|≈)?\s*(?P<level>\d+)(?:[.,]0+)?\s*(?P<doubt>\?)?")
_RANGE = re.compile(r"(?P<low>\d)\s*(?P<between>-|–|—|−|/|\.\.\.?|to|or|bis)\s*(?P<high>\d)", re.IGNORECASE)
_DATE = re.compile(r"\d{4}-\d\d-\d\d.*|\d{1,2}[- ]?[A-Za-z]{3,}[- ]?\d*|[A-Za-z]{3,}[- ]\d+")
_HOW = "write a whole number from 1 to 5, or a range such as 2-3"


@dataclass(frozen=True, slots=True)
class ReadRating:
    """Lowest and highest level a rating may mean, or the reason why it is none, or a note."""

    low: int | None = None
    high: int | None = None
    reason: str | None = None
    note: str | None = None


def read_ratings(texts: pl.Series, words: Mapping[str, str]) -> pl.DataFrame:
    """Ratings of a column.

    texts : String, shape (n,), as typed. words : the shop's words, casefolded, to a rating or range.
    Returns columns low, high (Int64, null when not rated), reason and note, shape (n,).
    """
    distinct = texts.drop_nulls().unique(maintain_order=True)
    read = [read_rating(text, words) for text in distinct]
    parsed = pl.DataFrame(
        {
            "text": distinct.cast(pl.String),
            "low": pl.Series([item.low for item in read], dtype=pl.Int64),
            "high": pl.Series([item.high for item in read], dtype=pl.Int64),
            "reason": pl.Series([item.reason for item in read], dtype=pl.String),
            "note": pl.Series([item.note for item in read], dtype=pl.String),
        }
    )
    joined = texts.alias("text").to_frame().join(parsed, on="text", how="left", maintain_order="left")
    return joined.drop("text")


def read_rating(text: str, words: Mapping[str, str]) -> ReadRating:
    """One rating as typed. A blank is not rated; 0 is no level; words count only where the settings map them."""
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
