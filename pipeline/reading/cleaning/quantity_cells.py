"""Cells with a number and perhaps a unit to values in the contract's unit; each distinct text is read once."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import date

import polars as pl

from draincurve.pipeline.reading.cleaning.numbers import DecimalMarks, decimal_marks, plain_numbers, read_number
from draincurve.pipeline.reading.cleaning.units_of_measurement import TARGETS, UnitFactor, squashed_unit, unit_factor
from draincurve.schemas.columns import Kind

BLANK = ("", "-", "--", "–", "—", "?", "??", "n/a", "na", "#n/a", "nan", "none", "null", "unknown")
"""Texts that stand for nothing known in a cell that should hold a number, date or rating."""

LONGEST_QUANTITY = 80
"""A longer text is no number with a unit."""

_NUMBER = re.compile(
    r"(?P<about>~|≈|about|approx\.?|circa|ca\.?|c\.)?\s*(?P<sign>[+\-−])?\s*"
    r"(?P<number>\d(?:[\d.,'’ \u00a0\u2009\u202f]*\d)?|[.,]\d+)(?P<exponent>e[+-]?\d{1,3})?\s*"
    r"(?P<unit>.*?)\s*(?P<doubt>\?|-?ish)?",
    re.IGNORECASE | re.DOTALL,
)
_HOURS_MINUTES = re.compile(
    r"(?P<about>~|≈|about|approx\.?|circa|ca\.?|c\.)?\s*(?P<hours>\d{1,5})\s*(?:h|hr|hrs|hours?|:)\s*(?P<minutes>\d{1,2})"
    r"\s*(?:m|min|mins|minutes|')?(?::(?P<seconds>\d{2}))?",
    re.IGNORECASE,
)
_SHEET_TIME = re.compile(
    r"(?:1899-12-(?P<early>30|31)|(?P<date>19\d\d-\d\d-\d\d)) (?P<h>\d\d):(?P<m>\d\d):(?P<s>\d\d)"
)
_STANDING_WORDS: dict[str, tuple[float, str]] = {
    "o/n": (12.0, "h"),
    "overnight": (12.0, "h"),
    "over night": (12.0, "h"),
    "night": (12.0, "h"),
    "week": (1.0, "week"),
    "a week": (1.0, "week"),
    "one week": (1.0, "week"),
    "day": (1.0, "day"),
    "a day": (1.0, "day"),
    "one day": (1.0, "day"),
    "hour": (1.0, "h"),
    "an hour": (1.0, "h"),
    "half an hour": (30.0, "min"),
}


@dataclass(frozen=True, slots=True)
class ReadQuantity:
    """A number with its unit as typed (None: the column's), or the reason why there is none, or a note."""

    number: float | None = None
    unit: str | None = None
    reason: str | None = None
    note: str | None = None


def read_quantities(texts: pl.Series, kind: Kind, column_unit: str | None, file_marks: DecimalMarks) -> pl.DataFrame:
    """Values of a column.

    texts : String, shape (n,), as typed. column_unit : unit that the header names, None for the contract's unit.
    Returns columns value (f64, in the contract's unit), unit (as typed, null for the column's), reason (why there
    is no value) and note, shape (n,). A cell that stands for nothing gives nulls throughout.
    """
    marks = decimal_marks(texts)
    marks = marks if marks != DecimalMarks() else file_marks
    base = 1.0 if column_unit is None or kind not in TARGETS else unit_factor(column_unit, kind).factor or 1.0
    plain = plain_numbers(texts, marks)
    frame = pl.DataFrame({"text": texts, "plain": plain * base})
    odd = frame.filter(pl.col("plain").is_null() & pl.col("text").is_not_null())
    distinct = odd.get_column("text").unique(maintain_order=True)
    read = [_read(text, kind, marks) for text in distinct]
    parsed = pl.DataFrame(
        {
            "text": distinct,
            "number": pl.Series([item.number for item in read], dtype=pl.Float64),
            "unit": pl.Series([item.unit for item in read], dtype=pl.String),
            "reason": pl.Series([item.reason for item in read], dtype=pl.String),
            "note": pl.Series([item.note for item in read], dtype=pl.String),
        }
    )
    factors = _factors(parsed.get_column("unit").drop_nulls().unique(maintain_order=True), kind)
    parsed = parsed.join(factors, on="unit", how="left")
    number = pl.col("number") * pl.when(pl.col("unit").is_null()).then(base).otherwise(pl.col("factor"))
    parsed = parsed.select(
        "text", "unit", "note", number.alias("value"), pl.coalesce("reason", "unit_reason").alias("reason")
    )
    joined = frame.join(parsed, on="text", how="left", maintain_order="left")
    return joined.select(pl.coalesce("plain", "value").alias("value"), "unit", "reason", "note")


def is_blank(text: str) -> bool:
    """Whether a cell stands for nothing known."""
    return text.strip().casefold() in BLANK


def _factors(units: pl.Series, kind: Kind) -> pl.DataFrame:
    """Factor, or reason why the unit does not fit, for each distinct unit; a reading's waits for its quantity."""
    found = [UnitFactor(1.0) if kind == "reading" else unit_factor(unit, kind) for unit in units]
    return pl.DataFrame(
        {
            "unit": units.cast(pl.String),
            "factor": pl.Series([item.factor for item in found], dtype=pl.Float64),
            "unit_reason": pl.Series([item.reason for item in found], dtype=pl.String),
        }
    )


def _read(text: str, kind: Kind, marks: DecimalMarks) -> ReadQuantity:
    """One distinct text."""
    typed = text.strip()
    if is_blank(typed):
        return ReadQuantity()
    if kind in ("run hours", "standing time"):
        as_time = _read_time(typed, kind)
        if as_time is not None:
            return as_time
    match = _NUMBER.fullmatch(typed) if len(typed) <= LONGEST_QUANTITY else None
    if match is None:
        return ReadQuantity(reason="is not a number")
    rest = match["unit"]
    if rest and re.match(r"[-–—/]|to\b|bis\b|\.\.", rest) and re.search(r"\d", rest):
        return ReadQuantity(reason="is not one value: write a single number")
    if rest and kind not in TARGETS and kind != "reading":
        return ReadQuantity(reason="is not a number: put its unit in the column for units")
    number = read_number(match["number"], marks)
    if number.value is None:
        return ReadQuantity(reason=number.reason)
    value = _signed(number.value, match["sign"], match["exponent"])
    if not math.isfinite(value):
        return ReadQuantity(reason="is not a number")
    rough = match["about"] or match["doubt"]
    note = f"'{typed}' is approximate: kept as {value:g} {squashed_unit(rest)}".rstrip() if rough else None
    return ReadQuantity(value, rest or None, None, note)


def _signed(value: float, sign: str | None, exponent: str | None) -> float:
    try:
        scaled = value * 10.0 ** int(exponent[1:]) if exponent else value
    except OverflowError:
        return math.inf
    return -scaled if sign in ("-", "−") else scaled


def _read_time(typed: str, kind: Kind) -> ReadQuantity | None:
    """Hours out of "1h30", "1:30", a sheet's time of day, and the bench's words for standing."""
    sheet = _SHEET_TIME.fullmatch(typed)
    if sheet is not None:
        hours = _sheet_hours(sheet)
        return ReadQuantity(hours, "h", None, f"a time of day in the sheet is read as {hours:g} h")
    match = _HOURS_MINUTES.fullmatch(typed)
    if match is not None:
        minutes, seconds = int(match["minutes"]), int(match["seconds"] or 0)
        if minutes > 59 or seconds > 59:
            return ReadQuantity(reason="has more than 59 minutes: write hours and minutes, such as 1h30")
        hours = int(match["hours"]) + minutes / 60 + seconds / 3600
        return ReadQuantity(hours, "h", None, f"'{typed}' is approximate" if match["about"] else None)
    word = re.sub(r"\s+", " ", typed.casefold()).rstrip(".")
    if kind == "standing time" and word in _STANDING_WORDS:
        number, unit = _STANDING_WORDS[word]
        night = number == 12.0
        return ReadQuantity(number, unit, None, f"'{typed}' is read as 12 h" if night else None)
    return None


def _sheet_hours(match: re.Match[str]) -> float:
    """Hours of a duration that a workbook stores as a date near 1900 (day 0 is 31 December 1899)."""
    clock = int(match["h"]) + int(match["m"]) / 60 + int(match["s"]) / 3600
    if match["date"] is None:
        return clock
    day = date.fromisoformat(match["date"])
    leap_year_that_never_was = 1 if day >= date(1900, 3, 1) else 0
    return ((day - date(1899, 12, 31)).days + leap_year_that_never_was) * 24 + clock
