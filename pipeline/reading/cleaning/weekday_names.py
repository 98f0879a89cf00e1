"""Names of weekdays in English, German, French, Spanish and Italian, with their usual abbreviations."""

from __future__ import annotations

from collections.abc import Mapping

from draincurve.pipeline.reading.cleaning.month_names import without_accents

_NAMES = (
    "mon monday mo montag lun lundi lu lunes lunedi",
    "tue tues tuesday di dienstag mar mardi ma martes martedi",
    "wed weds wednesday mi mittwoch mer mercredi me mie miercoles mercoledi",
    "thu thur thurs thursday do donnerstag jeu jeudi je ju jue jueves gio giovedi",
    "fri friday fr freitag ven vendredi ve vi vie viernes venerdi",
    "sat saturday sa samstag sonnabend sam samedi sab sabado sabato",
    "sun sunday so sonntag dim dimanche di do dom domingo domenica",
)
"""Monday first."""


def _by_word() -> Mapping[str, frozenset[int]]:
    days: dict[str, set[int]] = {}
    for number, names in enumerate(_NAMES):
        for name in names.split():
            days.setdefault(name, set()).add(number)
    return {name: frozenset(numbers) for name, numbers in days.items()}


_DAYS = _by_word()


def weekdays(word: str) -> frozenset[int]:
    """The weekdays that a word may name, 0 for Monday, without regard to case and accents; none for another word."""
    return _DAYS.get(without_accents(word), frozenset())
