"""Names of weekdays in the nine languages of `month_names.py`, with their usual abbreviations."""

from __future__ import annotations

from collections.abc import Mapping

from draincurve.pipeline.reading.cleaning.month_names import without_accents

_NAMES = (
    "mon monday mo montag lun lundi lu lunes lunedi maandag ma segunda seg måndag mån poniedziałek pon",
    "tue tues tuesday di dienstag mar mardi ma martes martedi dinsdag terça ter tisdag tis wtorek wt",
    "wed weds wednesday mi mittwoch mer mercredi me mie miercoles mercoledi "
    "woensdag wo quarta qua onsdag ons środa śr",
    "thu thur thurs thursday do donnerstag jeu jeudi je ju jue jueves gio giovedi "
    "donderdag quinta qui torsdag tors czwartek czw",
    "fri friday fr freitag ven vendredi ve vi vie viernes venerdi vrijdag vr sexta fredag fre piątek pt",
    "sat saturday sa samstag sonnabend sam samedi sab sabado sabato zaterdag za lördag lör sobota sob",
    "sun sunday so sonntag dim dimanche di do dom domingo domenica zondag zo söndag sön niedziela niedz",
)
"""Monday first."""


def _by_word() -> Mapping[str, frozenset[int]]:
    days: dict[str, set[int]] = {}
    for number, names in enumerate(_NAMES):
        for name in names.split():
            days.setdefault(without_accents(name), set()).add(number)
    return {name: frozenset(numbers) for name, numbers in days.items()}


_DAYS = _by_word()


def weekdays(word: str) -> frozenset[int]:
    """The weekdays that a word may name, 0 for Monday, without regard to case and accents; none for another word."""
    return _DAYS.get(without_accents(word), frozenset())
