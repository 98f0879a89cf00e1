"""Headers of hours on something, in any order of words: "Betriebsstunden Öl", "Hours oil", "heures sur l'huile"."""

from __future__ import annotations

from collections.abc import Iterable

_WORDS = {
    "hours": "hours hour hrs hr h stunden std betriebsstunden fahrstunden einsatzstunden bh laufzeit heures heure "
    "horas hora ore ora",
    "spent": "on with run running ridden auf mit gelaufen gefahren sur avec roulees con sobre su sull sulla",
    "since": "since last seit letztem letzten depuis derniere dernier desde ultimo dal dall",
    "change": "change drain service olwechsel oelwechsel wechsel vidange cambio",
    "oil": "oil ol oel gabelol gabeloel huile aceite olio",
    "suspension": "fork shock damper gabel federbein dampfer daempfer fourche amortisseur horquilla amortiguador "
    "forcella ammortizzatore",
    "spring": "spring feder ressort muelle resorte molla",
    "machine": "engine motor bike motorcycle maschine motorrad moteur machine moto motore maquina macchina total "
    "gesamt totales totali",
}
"""Words of five languages by what they say, as header_words gives them.

"At" is none of them: hours at a change are a meter's.
"""
_KINDS = {word: kind for kind, words in _WORDS.items() for word in words.split()}
_COMPOUNDS = {
    "gabelolstunden": ("oel", "stunden"),
    "gabeloelstunden": ("oel", "stunden"),
    "maschinenstunden": ("maschine", "stunden"),
    "gesamtstunden": ("gesamt", "stunden"),
}
_COLUMNS: dict[str, dict[str, tuple[str, ...]]] = {
    "drains": {"oil": ("oil_hours",), "spring": ("spring_hours",), "machine": ("oil_hours", "meter_hours")},
    "measurements": {"oil": ("component_hours",)},
}


def hours_columns(words: Iterable[str], table: str) -> tuple[str, ...]:
    """The columns that a header of hours may mean, by its words without articles; none if it is no such header.

    Hours of an engine or a machine may be a meter's or those on the oil: both.

    >>> hours_columns(["betriebsstunden", "ol"], "drains")
    ('oil_hours',)
    >>> hours_columns(["engine", "hours"], "drains")
    ('oil_hours', 'meter_hours')
    >>> hours_columns(["oil", "level"], "drains")
    ()
    """
    kinds = {_KINDS.get(part, "other") for word in words for part in _COMPOUNDS.get(word, (word,))}
    if {"since", "change"} <= kinds:
        kinds = (kinds - {"change"}) | {"oil"}
    if "oil" in kinds:
        kinds.discard("suspension")
    on = kinds - {"hours", "spent", "since"}
    return _COLUMNS.get(table, {}).get(on.pop(), ()) if "hours" in kinds and len(on) == 1 else ()
