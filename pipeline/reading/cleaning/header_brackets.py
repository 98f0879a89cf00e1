"""Words of a header that change what its column holds: Oil (new), Hours (left), Debris (mg)."""

from __future__ import annotations

import re
from collections.abc import Collection

from draincurve.pipeline.reading.cleaning.header_synonyms import header_words
from draincurve.schemas.columns import Kind

_TO_COME = (
    "new fresh next planned plan target limit max maximum due budget average avg mean "
    "neu neue neues neuer neuen frisch nächste nächster nächstes geplant soll ziel grenze schnitt "
    "neuf neuve nouveau nouvelle prochain prochaine prévu prévue cible limite moyenne "
    "nuevo nueva próximo próxima previsto prevista objetivo límite media "
    "nuovo nuova prossimo prossima obiettivo massimo"
)
"""Of the oil that is filled in, of the next service, or of a plan: not of the drain."""
_AFTER = "after nach nachher danach après después dopo"
_REMAINING = (
    "left remaining rest togo übrig verbleibend restliche restant restantes rimanenti restanti quedan "
    "before start end begin vorher anfang ende avant début antes inicio prima inizio"
)
"""Of hours: what remains, or a reading at one end of a ride."""
_NO_RATING = (
    r"%|‰|\b(?:percent|prozent|pct|mg|g|gr|gram+s?|gramm|µg|ppm|ppb|µm|um|mm|micron|microns|mikron|pieces|pcs|stk"
    r"|stück|particles?/ml|per ml|/ml|count|anzahl|nombre|número|numero|weight|gewicht|poids|peso|size|größe)\b"
)
_TIMES = re.compile(
    r"(?:[x×*]\s*|÷\s*|/\s*|1/)(?:10|100|60)|(?:10|100)\s*[x×]|tenths?|zehntel|dixièmes?|décimas|decimi"
)
"""A factor that the cells are to be multiplied or divided by."""
_OF_TO_COME, _OF_AFTER, _OF_REMAINING = (frozenset(header_words(listed)) for listed in (_TO_COME, _AFTER, _REMAINING))


def is_another_column(inside: str, kind: Kind) -> bool:
    """Whether a bracket says that the column holds something else than its header says without the bracket.

    A bracket with an equals sign explains the levels of a scale.

    >>> is_another_column("new", "text"), is_another_column("mg", "rating"), is_another_column("1 = new", "rating")
    (True, True, False)
    """
    small, words = inside.casefold().strip(), header_words(inside)
    if "=" in small or ":" in small:
        return False
    if kind in ("run hours", "settling time", "volume") and _TIMES.fullmatch(small):
        return True
    if kind == "rating" and re.search(_NO_RATING, small):
        return True
    after = not _OF_AFTER.isdisjoint(words)
    return kind != "volume" and (after or is_to_come(words, hours=kind == "run hours"))


def is_to_come(words: Collection[str], *, hours: bool) -> bool:
    """Whether words of a header name the oil filled in, the next service, or a plan; of hours also what remains.

    words : as `header_words` gives them
    """
    return not _OF_TO_COME.isdisjoint(words) or (hours and not _OF_REMAINING.isdisjoint(words))
