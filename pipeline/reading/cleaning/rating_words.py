"""Words that are written for a rating, by channel, and the levels that each may mean.

The words of the scale itself (schemas/channels.py), which the bench card prints, mean their level. The others are
common words of the trade in five languages, without a single source; a word that covers several levels is a range.
"""

from __future__ import annotations

import re
import unicodedata

from draincurve.schemas.channels import CHANNELS, RATING_LOW, Channel

NOTHING_FOUND = ("none", "None", "NONE")
"""Means nothing found, but programs also write it for an empty cell: only other words of the column show which."""

_NOT_RATED = (
    "not rated, unrated, not checked, not looked at, not seen, not inspected, nicht bewertet, nicht geprüft, "
    "nicht angesehen, non noté, pas noté, non évalué, pas contrôlé, sin evaluar, no evaluado, no revisado, "
    "non valutato, non controllato"
)

_COLOUR = {
    "1": "as poured, like new, as new, new, fresh, neu, wie neu, neuwertig, neuf, neuve, comme neuf, comme neuve, "
    "nuevo, como nuevo, nuovo, come nuovo",
    "1-2": "clean, clear, golden, klar, sauber, clair, claire, propre, claro, limpio, chiaro, pulito",
    "1-3": "yellow, yellowish, gelb, gelblich, jaune, jaunâtre, amarillo, amarillento, giallo, giallino, giallastro, "
    "giallognolo",
    "2": "tinted, bright, tinted but bright, hell, getönt, teinté, teintée",
    "2-3": "amber, honey, light brown, slightly brown, bernstein, hellbraun, leicht braun, ambre, ambré, ambrée, "
    "brun clair, légèrement brun, légèrement brune, ámbar, miel, marrón claro, ambra, ambrato, marrone chiaro, "
    "slightly cloudy, slightly hazy, leicht trüb, leicht getrübt, légèrement trouble, ligeramente turbio, "
    "leggermente torbido",
    "2-4": "brownish, bräunlich, brunâtre, parduzco, marronastro",
    "3": "clouded, cloudy, hazy, trüb, getrübt, trouble, turbio, torbido",
    "3-4": "brown, braun, brun, brune, marron, marrón, marrone",
    "4": "dark, dark brown, dunkel, dunkelbraun, foncé, foncée, sombre, oscuro, scuro",
    "4-5": "black, very dark, schwarz, sehr dunkel, noir, noire, très foncé, negro, muy oscuro, nero, molto scuro",
    "5": "opaque, muddy, mud, undurchsichtig, schlammig, boueux, boueuse, opaco, fangoso",
}
_DEBRIS = {
    "1": "none found, nothing, nothing found, no debris, no metal, no particles, keine, nichts, kein abrieb, "
    "keine späne, aucun, aucune, rien, néant, ninguno, ninguna, nada, nessuno, nessuna, niente",
    "1-3": "fine, fein, fin, fino, fina",
    "2": "faint shimmer, shimmer, schimmer, leichter schimmer, léger reflet",
    "2-3": "dust, fine dust, fine glitter, sparkle, sparkles, feiner flitter, brillo, luccichio",
    "3": "glitter, some glitter, flitter, glitzer, purpurina, brillantini",
    "3-4": "filings, limaille, limaduras, limatura",
    "3-5": "paillettes",
    "4": "streak, settled streak, fuzz, fuzz on magnet, sludge, flaum, schlamm, boue, lodo, morchia",
    "4-5": "swarf, abrieb grob",
    "5": "flakes, single flakes, flake, slivers, chips, chunks, splinters, späne, flocken, splitter, copeaux, "
    "éclats, virutas, escamas, trucioli, scaglie",
}
_TRADE = {"colour": _COLOUR, "debris": _DEBRIS}


def rating_word(text: str) -> str:
    """A word as it is looked up: lower case, without accents, punctuation and articles."""
    letters = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(mark for mark in letters if not unicodedata.combining(mark))
    return " ".join(word for word in re.findall(r"[^\W\d_]+", plain) if word not in ("the", "a"))


def _scale_words(channel: Channel) -> dict[str, str]:
    """The meaning of each level, and its parts ("opaque or muddy", "dark, base hard to see"), with the level."""
    levels: dict[str, str] = {}
    for level, meaning in enumerate(channel.scale, start=RATING_LOW):
        for part in (meaning, *re.split(r",\s*(?:or\s+)?|\s+or\s+", meaning)):
            levels.setdefault(rating_word(part), str(level))
    return levels


def _ratings_by_word(channel: Channel) -> dict[str, str]:
    trade = {
        rating_word(word): rating
        for rating, words in _TRADE.get(channel.name, {}).items()
        for word in words.split(", ")
    }
    return trade | _scale_words(channel)


NOT_RATED = frozenset(rating_word(word) for word in _NOT_RATED.split(", "))
"""Says that nobody looked, so it is as a blank."""
SCALE_WORDS: dict[str, dict[str, str]] = {channel.name: _scale_words(channel) for channel in CHANNELS}
"""For each channel: the level of each word of its scale, as `rating_word` gives it."""
RATING_WORDS: dict[str, dict[str, str]] = {channel.name: _ratings_by_word(channel) for channel in CHANNELS}
"""The same with the words of the trade, and a range where a word covers several levels."""
