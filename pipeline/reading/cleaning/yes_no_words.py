"""Words that mean yes or no, everywhere or under one column only: "dry" is no leak, and "ok" confirms a row."""

from __future__ import annotations

import re

_YES = ("yes", "y", "x", "1", "1.0", "true", "t", "ja", "j", "oui", "si", "sí", "sì", "vero", "wahr", "✓", "✔", "+")
_NO = ("no", "n", "0", "0.0", "false", "f", "nein", "non", "-", "–", "—", "none")
_UNKNOWN = ("", "?", "??", "n/a", "na", "nan", "null", "unknown")
_DOUBTED = (
    "maybe|perhaps|possibly|probably|may be|unsure|not sure|(?:to )?check|vielleicht|evtl[.]?|eventuell|unsicher"
    "|(?:zu )?prüfen|wahrscheinlich|peut-être|pas sûr|(?:à )?vérifier|quizás?|tal vez|no seguro|revisar|forse"
    "|non sicuro|(?:da )?controllare"
)
_FINE = "ok|okay|o[.]k[.]|fine|good|i[.]o[.]|in ordnung|bien|bon|bene|va bene"
_WET = "wet|damp|weep(?:s|ing)|leak(?:s|ing)|seep(?:s|ing)|feucht|nass|undicht|humide|fuit|húmedo|moja|umido|perde"
_SIDES = "both|left|right|links|rechts|beide|gauche|droite|izquierd[ao]|derech[ao]|sinistr[ao]|destr[ao]"
_OF_COLUMN = {
    "leak": (
        rf"(?:(?:very |a bit |slightly |leicht |un peu |un poco )?(?:{_WET})|slight(?:ly)?|a bit|{_SIDES})"
        r"(?: (?:seal|side|leg|seals|sides|legs))?",
        rf"{_FINE}|(?:still )?dry|no leaks?|dicht|trocken|sec|sèche|étanche|seco|seca|secco|asciutto",
    ),
    "milky": (
        "milky|milchig|laiteux|laiteuse|lechoso|lattiginoso",
        f"{_FINE}|clear|not milky|klar|clair|claire|claro|chiaro",
    ),
    "burnt": ("burnt|burned|verbrannt|brûlée?|quemado|bruciato", f"{_FINE}|no smell|not burnt|normal"),
    "confirmed": (
        "ok|okay|o[.]k[.]|checked|confirmed|right|correct|is right|stimmt|geprüft|richtig|bestätigt|vérifiée?|juste"
        "|confirmée?|correcto|verificado|confirmado|giusto|verificato|confermato",
        "wrong|not right|falsch|faux|incorrecto|sbagliato",
    ),
}
"""By column, regular expressions of what else means yes there, and no. Common words, without a single source."""


def yes_or_no(text: str, column: str) -> bool | None:
    """What a cell of a column says; None where it says neither."""
    word = " ".join(text.casefold().split())
    yes, no = _OF_COLUMN.get(column, ("", ""))
    if word in _YES or (yes and re.fullmatch(yes, word)):
        return True
    if word in _NO or (no and re.fullmatch(no, word)):
        return False
    return None


def is_unknown(text: str) -> bool:
    """Whether a cell says that it is not known."""
    return text.strip().casefold() in _UNKNOWN


def is_doubted(text: str, column: str) -> bool:
    """Whether a cell says that it is not sure: a question mark alone or behind yes or no, or such as "maybe"."""
    word = " ".join(text.casefold().split())
    plain = word.rstrip("?!() ").lstrip("(")
    if plain == word:
        return re.fullmatch(_DOUBTED, word) is not None
    asked = "?" in word[len(plain) :]
    return asked and (not plain or yes_or_no(plain, column) is not None or re.fullmatch(_DOUBTED, plain) is not None)
