"""Names of months in English, German, French, Spanish and Italian, with their usual abbreviations."""

from __future__ import annotations

import unicodedata

_NAMES = (
    "jan january januar jaenner jänner janv janvier ene enero gen genn gennaio",
    "feb february februar feber fév févr février febr febrero febbraio",
    "mar march mär märz maerz mrz mars marzo",
    "apr april avr avril abr abril aprile",
    "may mai mayo mag magg maggio",
    "jun june juni juin junio giu giugno",
    "jul july juli juil juillet julio lug luglio",
    "aug august août ago agosto",
    "sep sept september septembre septiembre setiembre set sett settembre",
    "oct october okt oktober octobre octubre ott ottobre",
    "nov november novembre noviembre",
    "dec december dez dezember déc décembre dic diciembre dicembre",
)


def without_accents(word: str) -> str:
    """A word in lower case without accents."""
    letters = unicodedata.normalize("NFKD", word.casefold())
    return "".join(mark for mark in letters if not unicodedata.combining(mark))


_MONTHS = {without_accents(word): month for month, words in enumerate(_NAMES, start=1) for word in words.split()}


def month_number(word: str) -> int | None:
    """The month that a word names, without regard to case and accents; None for any other word."""
    return _MONTHS.get(without_accents(word))
