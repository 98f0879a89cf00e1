"""Cells that hold a number, perhaps with a unit."""

from __future__ import annotations

import math
import re

import polars as pl

from draincurve.pipeline.reading.cleaning.marks_beside import without_marks
from draincurve.pipeline.reading.cleaning.number_words import with_digits
from draincurve.pipeline.reading.cleaning.numbers import DecimalMarks, decimal_marks, plain_numbers, read_number
from draincurve.pipeline.reading.cleaning.time_texts import HOURS_MINUTES, PRIMES, ReadQuantity, read_time
from draincurve.pipeline.reading.cleaning.units_of_measurement import TARGETS, squashed_unit, unit_factor
from draincurve.pipeline.reading.cleaning.word_cells import is_blank
from draincurve.schemas.columns import Kind

LONGEST_QUANTITY = 80
"""A longer text is not a number with a unit [characters]."""

_NUMBER = re.compile(
    r"(?P<about>~|≈|about|approx\.?|circa|ca\.?|c\.)?\s*(?P<sign>[+\-−])?\s*"
    r"(?P<number>\d(?:[\d.,'’ \u00a0\u2009\u202f]*\d)?|[.,]\d+)(?P<exponent>e[+-]?\d{1,3})?\s*"
    r"(?P<unit>.*?)\s*(?P<doubt>\(?\?\)?|-?ish|\(?(?:est(?:imated)?|approx(?:\.|imate)?|guess(?:ed)?|circa|ca|gesch(?:ätzt)?"
    r"|ungefähr|env(?:iron)?|estimée?|aprox|estimado|stimat[oe])\.?\)?)?",
    re.IGNORECASE | re.DOTALL,
)
_FRACTION = re.compile(
    r"(?P<before>(?:~|≈|about|ca\.?)?\s*)(?P<whole>\d{1,5})?\s*(?P<part>[½¼¾]|(?<![\d.,])[13]/[24](?!\d))\s*(?P<unit>\D*)"
)
_PARTS = {"½": 0.5, "1/2": 0.5, "¼": 0.25, "1/4": 0.25, "¾": 0.75, "3/4": 0.75}
_ANOTHER = re.compile(r"[-–—/→(]|=>|->|x\b|×|to\b|bis\b|\.\.|not\b|nicht\b|pas\b|was\b|war\b", re.IGNORECASE)
"""What stands between two numbers of which one is meant."""
_TIMES = re.compile(r"(?P<times>\d{1,2})\s*[x×]\s*(?P<each>\d.*)", re.IGNORECASE)
_SUM = re.compile(r"\d[^+]*(?:\+\s*\d[^+]*){1,5}")
_REMARK = re.compile(r"[^\W\d_]{3,}\W+[^\W\d_]+|^\(")
"""Words, or something in brackets, behind a number."""
_SUM_OF_A_SHEET = re.compile(r"=(?=[\d., ]+\+[\d.,+ ]+$)")
SUMMED: tuple[Kind, ...] = ("run hours", "volume")
"""Kinds of column in which 8+4 is the sum of two rides, or of two measures."""


def read_quantities(
    texts: pl.Series, kind: Kind, *, column_unit: str | None, file_marks: DecimalMarks
) -> pl.DataFrame:
    """Values of a column.

    texts : String, shape (n,), as typed. column_unit : unit in the header, None for the contract's unit. file_marks :
    of all columns of the file, for a column whose own cells prove nothing. Returns columns value (f64, in the
    contract's unit), unit (as typed, null for the column's), reason (why there is no value), note and proposal, shape
    (n,). A blank cell gives nulls throughout.
    """
    marks = decimal_marks(texts)
    marks = marks if marks != DecimalMarks() else file_marks
    base = 1.0 if column_unit is None or kind not in TARGETS else unit_factor(column_unit, kind).factor or 1.0
    plain = plain_numbers(texts, marks)
    frame = pl.DataFrame({"text": texts, "plain": plain * base})
    odd = frame.filter(pl.col("plain").is_null() & pl.col("text").is_not_null())
    distinct = odd.get_column("text").unique(maintain_order=True)
    parsed = pl.DataFrame(
        [
            (text, *_in_column_unit(_read_cell(text, kind, marks=marks, base=base), kind, base=base))
            for text in distinct
        ],
        schema={"text": pl.String, "value": pl.Float64}
        | dict.fromkeys(("unit", "reason", "note", "proposal"), pl.String),
        orient="row",
    )
    joined = frame.join(parsed, on="text", how="left", maintain_order="left")
    return joined.select(pl.coalesce("plain", "value").alias("value"), "unit", "reason", "note", "proposal")


def _in_column_unit(
    read: ReadQuantity, kind: Kind, *, base: float
) -> tuple[float | None, str | None, str | None, str | None, str | None]:
    """Value in the contract's unit, unit, reason, note and proposal; a measured value stays in its unit as typed.

    base : factor of the column's own unit
    """
    value, reason = read.number, read.reason
    if value is not None and read.unit is None:
        value *= base
    elif value is not None and read.unit is not None and kind != "reading":
        conversion = unit_factor(read.unit, kind)
        value, reason = None if conversion.factor is None else value * conversion.factor, conversion.reason
    return value, read.unit, reason, read.note, read.proposal


def _read_cell(text: str, kind: Kind, *, marks: DecimalMarks, base: float) -> ReadQuantity:
    """One text; in a column of minutes 12'30 may be minutes and seconds."""
    time = HOURS_MINUTES.fullmatch(text.strip()) if base != 1.0 and kind == "run hours" else None
    if time is not None and time["prime"] is not None:
        return ReadQuantity(reason=PRIMES)
    read, typed = _read(text, kind, marks=marks), text.strip()
    plain = without_marks(typed)
    if plain == typed or kind not in TARGETS or read.reason == PRIMES or _is_understood(read, kind):
        return read
    if not _is_understood(_read(plain, kind, marks=marks), kind):
        return read
    return ReadQuantity(reason="holds a mark beside the number: write the number alone", proposal=plain)


def _is_understood(read: ReadQuantity, kind: Kind) -> bool:
    """Whether there is a number, in a unit of its kind if it has one."""
    return read.number is not None and (read.unit is None or unit_factor(read.unit, kind).factor is not None)


def _read(text: str, kind: Kind, *, marks: DecimalMarks) -> ReadQuantity:
    """One text."""
    typed = with_digits(_SUM_OF_A_SHEET.sub("", text.strip())) if kind in SUMMED else text.strip()
    if is_blank(typed):
        return ReadQuantity()
    as_sum = (
        _read_product(typed, kind, marks=marks)
        or _read_sum(typed, kind, marks=marks)
        or _read_fraction(typed, kind, marks=marks)
    )
    if as_sum is not None:
        return as_sum
    if kind in ("run hours", "settling time"):
        as_time = read_time(typed, kind)
        if as_time is not None:
            return as_time
    match = _NUMBER.fullmatch(typed) if len(typed) <= LONGEST_QUANTITY else None
    if match is None:
        return ReadQuantity(reason="is not a number: write it such as 12.5")
    rest = match["unit"]
    if rest and (wrong := _no_unit(rest, kind)) is not None:
        return ReadQuantity(reason=wrong)
    number = read_number(match["number"], marks)
    if number.value is None:
        return ReadQuantity(reason=number.reason)
    value = _signed(number.value, match["sign"], exponent=match["exponent"])
    if not math.isfinite(value):
        return ReadQuantity(reason="is not a number: write it such as 12.5")
    rough = match["about"] or match["doubt"]
    note = f"'{typed}' is approximate: kept as {value:g} {squashed_unit(rest)}".rstrip() if rough else None
    return ReadQuantity(value, rest or None, None, note)


def _no_unit(rest: str, kind: Kind) -> str | None:
    """Why what stands behind a number is no unit of its own; None where it may be one."""
    if _ANOTHER.match(rest) and re.search(r"\d", rest):
        return "is not one value: write a single number"
    if kind not in TARGETS and kind != "reading":
        return "is not a number: put its unit in the column for units"
    if kind in TARGETS and _REMARK.search(rest) and unit_factor(rest, kind).factor is None:
        return "has words beside the number: write the number alone, and the words in a note"
    return None


def _read_product(typed: str, kind: Kind, *, marks: DecimalMarks) -> ReadQuantity | None:
    """Several rides of the same length: 2 x 6 h."""
    match = _TIMES.fullmatch(typed) if kind in SUMMED and len(typed) <= LONGEST_QUANTITY else None
    each = None if match is None else _read(match["each"], kind, marks=marks)
    if match is None or each is None or each.number is None:
        return None
    total = int(match["times"]) * each.number
    return ReadQuantity(total, each.unit, None, f"'{typed}' is read as the product, {total:g}")


def _read_sum(typed: str, kind: Kind, *, marks: DecimalMarks) -> ReadQuantity | None:
    """The sum of "8+4" or "8 h + 4h30", in the first unit that a part names; the other parts are in it too."""
    if kind not in SUMMED or len(typed) > LONGEST_QUANTITY or not _SUM.fullmatch(typed):
        return None
    parts = [_read(part, kind, marks=marks) for part in typed.split("+")]
    unit = next((part.unit for part in parts if part.unit is not None), None)
    total = 0.0
    for part in parts:
        factor = 1.0 if unit is None else unit_factor(part.unit or unit, kind).factor
        if part.number is None or factor is None:
            return ReadQuantity(reason="is not one value: write the sum")
        total += part.number * factor
    if unit is not None:
        total /= unit_factor(unit, kind).factor or 1.0
    return ReadQuantity(total, unit, None, f"'{typed}' is read as the sum, {total:g}")


def _read_fraction(typed: str, kind: Kind, *, marks: DecimalMarks) -> ReadQuantity | None:
    """A number with a half or a quarter: 12½, 12 1/2, ½ h."""
    match = _FRACTION.fullmatch(typed)
    if match is None or (match["whole"] is None and "/" in match["part"] and not match["unit"].strip()):
        return None
    number = int(match["whole"] or 0) + _PARTS[match["part"]]
    read = _read(f"1 {match['unit']}".strip(), kind, marks=marks)
    if read.number is None:
        return read
    note = f"'{typed}' is approximate" if match["before"].strip() else None
    return ReadQuantity(number, read.unit, None, note)


def _signed(value: float, sign: str | None, *, exponent: str | None) -> float:
    try:
        scaled = value * 10.0 ** int(exponent[1:]) if exponent else value
    except OverflowError:
        return math.inf
    return -scaled if sign in ("-", "−") else scaled
