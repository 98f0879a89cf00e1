"""Headers of hours on something: "Betriebsstunden Öl", "Hours oil", "ore olio", in any order of words and five languages.

Words are written as header_words gives them: lower case, without accents.
"""

from __future__ import annotations

from collections.abc import Iterable

_HOURS = frozenset(
    "hours hour hrs hr h stunden std betriebsstunden fahrstunden einsatzstunden bh laufzeit heures heure horas hora "
    "ore ora".split()
)
_LINKS = frozenset(
    "on with run running ridden auf mit gelaufen gefahren sur avec roulees con sobre su sull sulla".split()
)
"""Words between the two that leave it at hours spent; "at" is none: hours at a change are a meter's."""
_SINCE = frozenset("since last seit letztem letzten depuis derniere dernier desde ultimo dal dall".split())
_CHANGE = frozenset("change changed drain service olwechsel oelwechsel wechsel vidange cambio".split())
_OIL = frozenset("oil ol oel gabelol gabeloel huile aceite olio".split())
_SPRING = frozenset("spring feder ressort muelle resorte molla".split())
_SUSPENSION = frozenset(
    "fork shock damper gabel federbein dampfer daempfer fourche amortisseur horquilla amortiguador forcella "
    "ammortizzatore".split()
)
"""Words beside oil that say which oil."""
_MACHINE = frozenset(
    "engine motor machine bike motorcycle maschine motorrad moteur machine moto motore maquina macchina total gesamt "
    "totales totali".split()
)
_COMPOUNDS = {
    "gabelolstunden": ("oel", "stunden"),
    "gabeloelstunden": ("oel", "stunden"),
    "motorradstunden": ("motorrad", "stunden"),
    "maschinenstunden": ("maschine", "stunden"),
    "gesamtstunden": ("gesamt", "stunden"),
}

_COLUMNS = {
    "drains": {"oil": ("oil_hours",), "spring": ("spring_hours",), "machine": ("oil_hours", "meter_hours")},
    "measurements": {"oil": ("component_hours",)},
}


def hours_columns(words: Iterable[str], table: str) -> tuple[str, ...]:
    """The columns that a header of hours may mean, by its words without articles; none if it is no such header.

    Hours of an engine or a machine may be a meter's reading or what this oil has run: both.

    >>> hours_columns(["betriebsstunden", "ol"], "drains")
    ('oil_hours',)
    >>> hours_columns(["engine", "hours"], "drains")
    ('oil_hours', 'meter_hours')
    >>> hours_columns(["oil", "level"], "drains")
    ()
    """
    parts = {part for word in words for part in _COMPOUNDS.get(word, (word,))}
    things = parts - _HOURS - _LINKS - _SINCE
    if parts & _SINCE and things & _CHANGE:
        things = (things - _CHANGE) | {"oil"}
    if not parts & _HOURS or not things:
        return ()
    kinds = {"oil": bool(things & _OIL) and things <= _OIL | _SUSPENSION, "spring": things <= _SPRING}
    kind = next((kind for kind, fits in kinds.items() if fits), "machine" if things <= _MACHINE else "")
    return _COLUMNS.get(table, {}).get(kind, ())
