"""Words of a note for a change of oil that has no row of its own: the hours of the note's row are not the oil's then.

The five languages are those of `safety_words.py`.
"""

from __future__ import annotations

import re
from itertools import pairwise

UNLOGGED = "says that oil was changed in between: write a row for that, or the hours since then, and delete the note"
"""Why a row with such a note is held back."""


def _words(listed: str) -> frozenset[str]:
    return frozenset(listed.split())


_OIL = _words("oil fluid öl gabelöl huile aceite olio")
_CHANGED = _words(
    "changed change swapped renewed replaced drained gewechselt erneuert getauscht changée changé vidangé vidangée "
    "cambiado cambiato cambiata cambio sustituido sostituito"
)
_CHANGE = _words("change changes drain drains ölwechsel oelwechsel wechsel vidange vidanges cambio cambios")
_BETWEEN = _words(
    "between meantime meanwhile halfway midway zwischendurch zwischendrin dazwischen zwischenzeit inzwischen "
    "entretemps entremedias entretanto frattempo intermediate intermédiaire intermedio intermedia"
)
_ENTRY = _words("entry entries row eintrag zeile ligne línea entrada riga")
_NOT = _words("not never isn't wasn't nicht nie pas non no sin senza")
_MAY_STAND_BETWEEN = _words("been was yet being wurde worden été stato stata sido è a ha")
_WRITTEN = _words(
    "logged recorded entered written noted eingetragen notiert aufgeschrieben erfasst notée noté inscrite inscrit "
    "anotado anotada anotar registrado registrada registrar apuntado apuntar registrato registrata annotato annotare"
)
_TO_WRITE = _words("log note write enter record unlogged unrecorded eintragen notieren noter anotar annotare")
_FORGOTTEN = _words(
    "forgot forgotten missed missing unlogged unrecorded vergessen vergaß fehlt oublié oubliée manque olvidado "
    "olvidé falta dimenticato dimenticata manca"
)
_JOINED = (("entre temps", "entretemps"), ("entre-temps", "entretemps"), ("entre medias", "entremedias"))
_WORD = re.compile(r"[^\W\d_]+(?:'t)?")


def says_change_between(note: str) -> bool:
    """Whether a note tells of a change of oil before this one that has no row.

    note : in small letters

    >>> says_change_between("oil changed in between at the track"), says_change_between("changed oil between races")
    (True, False)
    """
    for typed, joined in _JOINED:
        note = note.replace(typed, joined)
    return any(_is_told(clause) for clause in re.split(r"[.;,!()]", note))


def _is_told(clause: str) -> bool:
    found = _WORD.findall(clause)
    words = frozenset(found)
    of_oil = not words.isdisjoint(_OIL | _CHANGE)
    between = [at for at, word in enumerate(found) if word in _BETWEEN]
    if between and of_oil and not words.isdisjoint(_CHANGED | _CHANGE):
        at = between[0]
        if found[at] != "between" or found[at - 1 : at] == ["in"]:  # not "between races"
            return True
    about = not words.isdisjoint(_CHANGE | _ENTRY)
    said = [word for word in found if word not in _MAY_STAND_BETWEEN]
    unwritten = any(one in _NOT and other in _WRITTEN for one, other in pairwise(said))  # not "no change noted"
    forgotten = not words.isdisjoint(_FORGOTTEN) and not words.isdisjoint(_WRITTEN | _ENTRY | _TO_WRITE)
    return about and (unwritten or forgotten)
