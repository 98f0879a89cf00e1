"""Times as texts: 1h30, 12:30, 11 ore e mezza, PT12H30M, a sheet's time of day, and words for a settling time."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

from draincurve.schemas.columns import Kind

HOURS_MINUTES = re.compile(
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
PRIMES = "may be minutes and seconds, or hours and minutes: write 12:30, or 12.5 min"
_HOUR = r"hrs?\.?|hours?|h|std\.?|stunden?|heures?|horas?|or[ae]"
_AND_PARTS = re.compile(
    rf"(?P<hours>\d{{1,5}})\s*(?P<unit>{_HOUR})?\s*(?:(?:and|und|et|y|ed?)\s+(?:(?:an?|une?|una|eine?)\s+)?|ein\s*)"
    r"(?P<part>half|halbe?|demie?|media|mezz[ao]|quarter|viertel|quart|cuarto|quarto|three quarters|drei ?viertel"
    rf"|trois quarts|tres cuartos|tre quarti)(?:\s*(?:an?\s+)?(?P<behind>{_HOUR}))?",
    re.IGNORECASE,
)
"""11 ore e mezza, 11 heures et quart, 11einhalb Stunden, 11 and a half hours."""
_PARTS = {
    **dict.fromkeys(("ha", "de", "me"), 0.5),
    **dict.fromkeys(("qu", "vi", "cu"), 0.25),
    **dict.fromkeys(("th", "dr", "tr"), 0.75),
}
"""Parts of an hour by the beginning of their words."""


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


def read_time(typed: str, kind: Kind) -> ReadQuantity | None:
    """Hours from "1h30", "1:30", a sheet's time of day, and the bench's words for a settling time."""
    sheet = _SHEET_TIME.fullmatch(typed)
    if sheet is not None:
        hours = _sheet_hours(sheet)
        return ReadQuantity(hours, "h", None, f"a time of day in the sheet is read as {hours:g} h")
    written = _DAYS_AND_CLOCK.fullmatch(typed) or _DURATION.fullmatch(typed)
    if written is not None:
        days, hours, minutes, seconds = (int(written[part] or 0) for part in ("days", "hours", "minutes", "seconds"))
        return ReadQuantity(24 * days + hours + minutes / 60 + seconds / 3600, "h")
    parts = _AND_PARTS.fullmatch(typed)
    if parts is not None:
        unit = parts["unit"] or parts["behind"]
        return ReadQuantity(int(parts["hours"]) + _PARTS[parts["part"].casefold()[:2]], unit and "h")
    match = HOURS_MINUTES.fullmatch(typed)
    if match is not None:
        minutes, seconds = int(match["minutes"]), int(match["seconds"] or 0)
        if minutes > 59 or seconds > 59:
            return ReadQuantity(reason="has more than 59 minutes: write hours and minutes, such as 1h30")
        hours = int(match["hours"]) + minutes / 60 + seconds / 3600
        if len(match["minutes"]) == 1 and match["named"] is None:
            return ReadQuantity(reason=f"may be {hours:.2f} h or {match['hours']}.{minutes} h: write 12:05 or 12.5")
        if match["prime"] is not None and (kind == "settling time" or match["double"] is not None):
            return ReadQuantity(reason=PRIMES)
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
