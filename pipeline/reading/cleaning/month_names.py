"""Names of months in nine languages, with their usual abbreviations.

English, German, French, Spanish, Italian, Dutch, Portuguese, Swedish and Polish.
"""

from __future__ import annotations

import unicodedata

_NAMES = (
    "jan january januar jaenner jänner janv janvier ene enero gen genn gennaio januari janeiro sty styczeń stycznia",
    "feb february februar feber fév févr février febr febrero febbraio februari fev fevereiro luty lutego",
    "mar march mär märz maerz mrz mars marzo maart mrt março marzec marca",
    "apr april avr avril abr abril aprile kwi kwiecień kwietnia",
    "may mai mayo mag magg maggio mei maj maio maja",
    "jun june juni juin junio giu giugno junho cze czerwiec czerwca",
    "jul july juli juil juillet julio lug luglio julho lipiec lipca",
    "aug august août ago agosto augustus augusti sie sierpień sierpnia",
    "sep sept september septembre septiembre setiembre set sett settembre setembro wrz wrzesień września",
    "oct october okt oktober octobre octubre ott ottobre outubro paź październik października",
    "nov november novembre noviembre novembro listopad listopada",
    "dec december dez dezember déc décembre dic diciembre dicembre dezembro gru grudzień grudnia",
)


def without_accents(word: str) -> str:
    """A word in lower case without accents."""
    letters = unicodedata.normalize("NFKD", word.casefold())
    return "".join(mark for mark in letters if not unicodedata.combining(mark))


_MONTHS = {without_accents(word): month for month, words in enumerate(_NAMES, start=1) for word in words.split()}


def month_number(word: str) -> int | None:
    """The month that a word names, without regard to case and accents; None for any other word."""
    return _MONTHS.get(without_accents(word))
