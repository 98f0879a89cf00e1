"""Cells that hold a number, perhaps with a unit."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import date

import polars as pl

from draincurve.pipeline.reading.cleaning.marks_beside import without_marks
from draincurve.pipeline.reading.cleaning.numbers import DecimalMarks, decimal_marks, plain_numbers, read_number
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
_HOURS_MINUTES = re.compile(
    r"(?P<about>~|≈|about|approx\.?|circa|ca\.?|c\.)?\s*(?P<hours>\d{1,5})\s*"
    r"(?:hrs?|hours?|h|std\.?|stunden?|heures?|horas?|or[ae]|:|(?P<prime>['’′]))\s*(?P<minutes>\d{1,2})"
    r"\s*(?P<named>m|min\.?|mins|minute[ns]?|minut[io]s?|'|(?P<double>''|\"|″))?(?::(?P<seconds>\d{2}))?",
    re.IGNORECASE,
)
_SHEET_TIME = re.compile(
    r"(?:1899-12-(?P<early>30|31)|(?P<date>19\d\d-\d\d-\d\d)) (?P<h>\d\d):(?P<m>\d\d):(?P<s>\d\d)"
)
_DAYS_AND_CLOCK = re.compile(
    r"(?P<days>\d{1,4}) days?,? (?P<hours>\d{1,2}):(?P<minutes>[0-5]\d):(?P<seconds>[0-5]\d)(?:\.0+)?", re.IGNORECASE
)
_DURATION = re.compile(
    r"P(?=T?\d)(?:(?P<days>\d{1,4})D)?(?:T(?=\d)(?:(?P<hours>\d{1,5})H)?(?:(?P<minutes>\d{1,5})M)?(?:(?P<seconds>\d{1,6})S)?)?",
    re.IGNORECASE,
)
"""How programs write a duration; the second is that of ISO 8601."""
_SETTLING_WORDS: dict[str, tuple[float, str]] = {
    **dict.fromkeys(
        (
            *("o/n", "overnight", "over night", "night", "über nacht", "ueber nacht", "nacht", "nuit", "une nuit"),
            *("noche", "una noche", "notte", "una notte"),
        ),
        (12.0, "h"),
    ),
    **dict.fromkeys(
        ("week", "a week", "one week", "woche", "eine woche", "semaine", "semana", "settimana"), (1.0, "week")
    ),
    **dict.fromkeys(("day", "a day", "one day", "tag", "ein tag", "jour", "un jour", "día", "giorno"), (1.0, "day")),
    **dict.fromkeys(("hour", "an hour", "stunde", "eine stunde", "heure", "hora", "ora"), (1.0, "h")),
    **dict.fromkeys(("immediately", "at once", "sofort", "tout de suite", "enseguida", "subito"), (0.0, "h")),
    **dict.fromkeys(("half an hour", "halbe stunde", "demi-heure", "media hora", "mezz'ora"), (30.0, "min")),
}
_PRIMES = "may be minutes and seconds, or hours and minutes: write 12:30, or 12.5 min"
_FRACTION = re.compile(
    r"(?P<before>(?:~|≈|about|ca\.?)?\s*)(?P<whole>\d{1,5})?\s*(?P<part>[½¼¾]|(?<![\d.,])[13]/[24](?!\d))\s*(?P<unit>\D*)"
)
_PARTS = {"½": 0.5, "1/2": 0.5, "¼": 0.25, "1/4": 0.25, "¾": 0.75, "3/4": 0.75}
_ANOTHER = re.compile(r"[-–—/→(]|=>|->|x\b|×|to\b|bis\b|\.\.|not\b|nicht\b|pas\b|was\b|war\b", re.IGNORECASE)
"""What stands between two numbers of which one is meant."""
_TIMES = re.compile(r"(?P<times>\d{1,2})\s*[x×]\s*(?P<each>\d.*)", re.IGNORECASE)
_SUM = re.compile(r"\d[^+]*(?:\+\s*\d[^+]*){1,5}")
SUMMED: tuple[Kind, ...] = ("run hours", "volume")
"""Kinds of column in which 8+4 is the sum of two rides, or of two measures."""


@dataclass(frozen=True, slots=True)
class ReadQuantity:
    """A number with its unit as typed (None: the column's), or the reason why it cannot be read; perhaps a note.

    proposal : what the cell may have meant, as it would be typed
    """

    number: float | None = None
    unit: str | None = None
    reason: str | None = None
    note: str | None = None
    proposal: str | None = None


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
    time = _HOURS_MINUTES.fullmatch(text.strip()) if base != 1.0 and kind == "run hours" else None
    if time is not None and time["prime"] is not None:
        return ReadQuantity(reason=_PRIMES)
    read, typed = _read(text, kind, marks=marks), text.strip()
    plain = without_marks(typed)
    if plain == typed or kind not in TARGETS or read.reason == _PRIMES or _is_understood(read, kind):
        return read
    if not _is_understood(_read(plain, kind, marks=marks), kind):
        return read
    return ReadQuantity(reason="holds a mark beside the number: write the number alone", proposal=plain)


def _is_understood(read: ReadQuantity, kind: Kind) -> bool:
    """Whether there is a number, in a unit of its kind if it has one."""
    return read.number is not None and (read.unit is None or unit_factor(read.unit, kind).factor is not None)


def _read(text: str, kind: Kind, *, marks: DecimalMarks) -> ReadQuantity:
    """One text."""
    typed = text.strip()
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
        as_time = _read_time(typed, kind)
        if as_time is not None:
            return as_time
    match = _NUMBER.fullmatch(typed) if len(typed) <= LONGEST_QUANTITY else None
    if match is None:
        return ReadQuantity(reason="is not a number: write it such as 12.5")
    rest = match["unit"]
    if rest and _ANOTHER.match(rest) and re.search(r"\d", rest):
        return ReadQuantity(reason="is not one value: write a single number")
    if rest and kind not in TARGETS and kind != "reading":
        return ReadQuantity(reason="is not a number: put its unit in the column for units")
    number = read_number(match["number"], marks)
    if number.value is None:
        return ReadQuantity(reason=number.reason)
    value = _signed(number.value, match["sign"], exponent=match["exponent"])
    if not math.isfinite(value):
        return ReadQuantity(reason="is not a number: write it such as 12.5")
    rough = match["about"] or match["doubt"]
    note = f"'{typed}' is approximate: kept as {value:g} {squashed_unit(rest)}".rstrip() if rough else None
    return ReadQuantity(value, rest or None, None, note)


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


def _read_time(typed: str, kind: Kind) -> ReadQuantity | None:
    """Hours from "1h30", "1:30", a sheet's time of day, and the bench's words for a settling time."""
    sheet = _SHEET_TIME.fullmatch(typed)
    if sheet is not None:
        hours = _sheet_hours(sheet)
        return ReadQuantity(hours, "h", None, f"a time of day in the sheet is read as {hours:g} h")
    written = _DAYS_AND_CLOCK.fullmatch(typed) or _DURATION.fullmatch(typed)
    if written is not None:
        days, hours, minutes, seconds = (int(written[part] or 0) for part in ("days", "hours", "minutes", "seconds"))
        return ReadQuantity(24 * days + hours + minutes / 60 + seconds / 3600, "h")
    match = _HOURS_MINUTES.fullmatch(typed)
    if match is not None:
        minutes, seconds = int(match["minutes"]), int(match["seconds"] or 0)
        if minutes > 59 or seconds > 59:
            return ReadQuantity(reason="has more than 59 minutes: write hours and minutes, such as 1h30")
        hours = int(match["hours"]) + minutes / 60 + seconds / 3600
        if len(match["minutes"]) == 1 and match["named"] is None:
            return ReadQuantity(reason=f"may be {hours:.2f} h or {match['hours']}.{minutes} h: write 12:05 or 12.5")
        if match["prime"] is not None and (kind == "settling time" or match["double"] is not None):
            return ReadQuantity(reason=_PRIMES)
        if match["prime"] is not None:
            note = f"'{typed}' is read as {int(match['hours'])} h {minutes} min"
            return ReadQuantity(hours, "h", None, note)
        return ReadQuantity(hours, "h", None, f"'{typed}' is approximate" if match["about"] else None)
    word = re.sub(r"\s+", " ", typed.casefold()).rstrip(".")
    if kind == "settling time" and word in _SETTLING_WORDS:
        number, unit = _SETTLING_WORDS[word]
        night = number == 12.0
        return ReadQuantity(number, unit, None, f"'{typed}' is read as 12 h" if night else None)
    return None


def _sheet_hours(match: re.Match[str]) -> float:
    """Hours of a duration that a workbook stores as a date near 1900 (day 0 is 31 December 1899)."""
    clock = int(match["h"]) + int(match["m"]) / 60 + int(match["s"]) / 3600
    if match["date"] is None:
        return clock
    day = date.fromisoformat(match["date"])
    false_leap_day = 1 if day >= date(1900, 3, 1) else 0  # workbooks have a 29 February 1900
    return ((day - date(1899, 12, 31)).days + false_leap_day) * 24 + clock
