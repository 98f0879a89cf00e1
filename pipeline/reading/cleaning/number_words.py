"""Numbers in words, as people write hours in five languages: twelve, elfeinhalb, douze et demie."""

from __future__ import annotations

import re

from draincurve.pipeline.reading.cleaning.month_names import without_accents

_WORDS = (
    "one ein eine eins un une uno una",
    "two zwei deux dos due",
    "three drei trois tres tre",
    "four vier quatre cuatro quattro",
    "five fünf fuenf cinq cinco cinque",
    "six sechs seis sei",
    "seven sieben sept siete sette",
    "eight acht huit ocho otto",
    "nine neun neuf nueve nove",
    "ten zehn dix diez dieci",
    "eleven elf onze once undici",
    "twelve zwölf zwoelf douze doce dodici",
    "thirteen dreizehn treize trece tredici",
    "fourteen vierzehn quatorze catorce quattordici",
    "fifteen fünfzehn fuenfzehn quinze quince quindici",
    "sixteen sechzehn seize dieciséis sedici",
    "seventeen siebzehn dix-sept diecisiete diciassette",
    "eighteen achtzehn dix-huit dieciocho diciotto",
    "nineteen neunzehn dix-neuf diecinueve diciannove",
    "twenty zwanzig vingt veinte venti",
)
_NUMBERS = {without_accents(word): number for number, words in enumerate(_WORDS, start=1) for word in words.split()}
_WORD = re.compile(r"(?P<word>[^\W\d_]+(?:-[^\W\d_]+)?)(?P<behind>\s.*|)", re.DOTALL)
_HALF = "einhalb"
_ONE_AND_A_HALF = ("anderthalb", "eineinhalb")


def with_digits(text: str) -> str:
    """A text that begins with a number up to twenty in words, with digits in its place; any other text as it is.

    >>> with_digits("twelve hours"), with_digits("elfeinhalb Std"), with_digits("douze et demie"), with_digits("12 h")
    ('12 hours', '11einhalb Std', '12 et demie', '12 h')
    """
    match = _WORD.fullmatch(text) if text[:1].isalpha() else None
    if match is None:
        return text
    word, behind = without_accents(match["word"]), match["behind"]
    if word in _ONE_AND_A_HALF:
        return f"1{_HALF}{behind}"
    half = word.endswith(_HALF)
    number = _NUMBERS.get(word.removesuffix(_HALF))
    return text if number is None else f"{number}{_HALF if half else ''}{behind}"
