"""Whether a clause of a note denies its sign: "no visible leak" and "leak: none" do, "no idea why it leaks" does not.

A denial counts only where it stands directly with the sign, with no words but `BETWEEN` between, and where nothing in
the clause takes it back: a question mark, "until", "almost", a second denial.
"""

from __future__ import annotations

import re
from typing import Literal

from draincurve.pipeline.reading.cleaning.spelling_keys import plain_letters

Denial = Literal["none", "unsure", "sure"]
"""What a clause says against a sign: nothing, something that may be meant otherwise, or that there is none."""

DENIED = (
    "no not never without none nothing isn't isnt wasn't aren't doesn't doesnt don't dont didn't didnt hasn't "
    "neither nor nicht kein keine keinen keiner keinerlei ohne nie nichts weder pas sans aucun aucune jamais ni sin "
    "ningún ninguna nunca non senza nessun nessuna nessuno mai zero"
)
"""Words before a sign that deny it: no leak, nicht undicht, pas de fuite."""
FREE_OF = "free (?:of|from)|frei von|exempte? de|libre de|liber[oa] da"
"""Words that deny what follows, as one."""
AGREEING = "pas aucun aucune jamais ni ningún ninguna nunca nessun nessuna nessuno mai"
"""Denials that stand behind another without taking it back: non c'è nessuna perdita."""
WITHOUT = "without ohne sans senza"
"""Denials that any denial before them takes back: no longer free of cracks."""
BETWEEN = (
    "a an the any of is are was were been be to it has have had more at all "
    "unusual abnormal strange odd weird ungewöhnliche ungewöhnlichen ungewöhnliches auffällige auffälligen "
    "anormal anormale étrange bizarre raro rara extraño anomalo anomala strano strana "
    "présente présentent presenta presentan aprecia aprecian observa observan "
    "visible obvious external apparent evident single actual sign signs trace traces evidence indication smell "
    "seen see sees found detected noticed show shows showing oil fork seal shaft water metal "
    "sichtbar sichtbare sichtbarer sichtbares sichtbaren erkennbar erkennbare offensichtlich anzeichen zeichen spur "
    "spuren von der die das dem den ein eine einen im mehr irgendein irgendeine ist sind war hat es öl "
    "de d du des la le les l en un une plus visibles signe signes trace été est sont y huile odeur eau "
    "hay se ve ven ha han tiene visto señal señales del el una algún alguna más olor aceite agua está es "
    "ci sono c'è né segno segni di dal traccia tracce visibile visibili odore olio acqua più vi è"
)
"""Words that may stand between a denial and its sign."""
OR = "or oder ou ni nor o u"
BEHIND = (
    "0 no none not nothing nein nicht nichts kein keine keiner keines non pas aucun aucune rien ninguno ninguna "
    "nada nessuno nessuna niente"
)
"""Words that deny the sign that they end the clause of: leak: none, leckt nicht."""
FOUND = (
    "found seen visible detected noticed today here at all gefunden gesehen sichtbar überhaupt heute du tout vu vue "
    "trouvé trouvée visto vista hallada trovata trovato"
)
"""Words that may stand behind such a word."""
BETWEEN_BEHIND = (
    "überhaupt gar left right both side sides there are links rechts "
    "beide gauche droite izquierda derecha sinistra destra hay"
)
FREE_NOUNS = ("leak", "leck", "crack", "riss", "noise", "play")
"""Signs that are denied by "free" behind them, without a hyphen; a seized damper may be free by now."""
TAKEN_BACK = (
    "until till bis jusqu'a jusqu'au jusqu'en hasta fino except außer sauf excepté salvo tranne only nur seulement "
    "almost nearly virtually fast beinahe nahezu presque quasiment casi quasi "
    "hope hopefully hoffe hoffentlich espère espérons espero esperemos spero speriamo think glaube guess believe "
    "much badly heavily always viel immer beaucoup toujours mucho siempre molto sempre "
    "such like than worse wie als telle pareille comme tal como tale come "
    "before previously earlier yesterday last früher vorher gestern avant auparavant antes ayer prima ieri "
    "maybe perhaps possibly vielleicht evtl eventuell peut-être quizás forse"
)
"""Words of a clause that take a denial back, wholly or in part."""
_SIDES = "left|right|links|rechts|(?:a )?gauche|(?:a )?droite|izquierda|derecha|sinistra|destra"
_OTHER_SIDE = rf"(?:{_SIDES}) (?:yes|does|ja|schon|doch|oui|si)\b"
_YES_AFTER_ALL = "(?:doch|ja|yes|yeah|oui|si|sí|sì|anzi|pardon|sorry|actually)"
_UNTIL = "until|till|bis|jusqu|hasta|fino|except|ausser|außer|sauf|salvo|tranne"
GOES_ON = rf"(?!\s*(?:{_UNTIL})|\s*(?:the )?{_OTHER_SIDE}|\s*{_YES_AFTER_ALL}\b)"
"""Behind a mark that ends a clause: what follows that mark does not begin a new one."""

_WORD = re.compile(r"[\w'-]+")


def _words(listed: str) -> frozenset[str]:
    return frozenset(plain_letters(listed.casefold()).split())


def _any_word(listed: str) -> str:
    return "|".join(sorted(_words(listed), key=len, reverse=True))


_DENIED, _AGREEING, _WITHOUT, _BETWEEN, _TAKEN_BACK, _OR = map(
    _words, (DENIED, AGREEING, WITHOUT, BETWEEN, TAKEN_BACK, OR)
)
_FREE_OF = re.compile(rf"\b(?:{FREE_OF})\b")
_TAKEN_BACK_BEHIND = re.compile(rf"{_OTHER_SIDE}|[.;!,(/]\s*{plain_letters(_YES_AFTER_ALL)}\b")
_FINE_BEHIND = re.compile(
    r"(?:s|age)?(?:[\s-]*(?:check|test|prufung|probe|kontrolle)\w*)?(?:[\s:=-]+(?:ok|okay|passed|clear|bestanden|bien|bon|"
    r"bene|superee?|superad[oa]|superat[oa])|\s*[:=]?\s+[-–—]|\s*[:=]\s*[-–—])[^\w?]*$"
)
"""What ends a clause behind a leak: that it was looked for and is not there."""
_LOOKED_FOR = re.compile(
    r"\W*(?:(?:oil|visual|seals?|check|test|checked for|controle|prueba|prova|controllo|revision)[\s:-]+)*"
    "(?:(?:de|des|di|las) )?"
)
"""What may stand before such a leak; behind other words it is one, such as a small leak."""
_LEAKS = ("leak", "leck", "fuite", "fuga", "perdita", "perdite")
_FREE_BEHIND = re.compile(r"-?(?:free|frei)\b")
_DENIED_BEHIND = re.compile(
    rf"[\s:=?–-]*(?:(?:{_any_word(BETWEEN_BEHIND)})[\s:=-]+)*(?:{_any_word(BEHIND)})"
    rf"(?:\s+(?:{_any_word(FOUND)}))*[^\w?]*$"
)
_OTHERWISE_BEHIND = re.compile(r"[\s:=?–-]*(?:no|none|nein|kein\w*|non|aucun\w*|ningun\w*|nessun\w*)\b")


def denial_of(clause: str, start: int, end: int) -> Denial:
    """What a clause says against the sign that it has between two positions.

    clause : small letters without accents, as `plain_letters` gives them

    >>> denial_of("no visible leak", 11, 15), denial_of("no idea why it leaks", 15, 20), denial_of("leak: none", 0, 4)
    ('sure', 'unsure', 'sure')
    """
    before, behind = _said_before(clause, start), _said_behind(clause, start, end)
    if before == "sure" and _OTHERWISE_BEHIND.match(clause, end):  # no leak no crack
        behind = "none"
    if (before, behind) == ("none", "none"):
        return "none"
    others = _WORD.findall(f"{clause[:start]} {clause[end:]}")
    taken_back = not _TAKEN_BACK.isdisjoint(others) or _TAKEN_BACK_BEHIND.search(clause, end) is not None
    asked = "?" in clause[end:] and behind != "sure"
    said_once = sorted((before, behind)) == ["none", "sure"]
    return "sure" if said_once and not taken_back and not asked else "unsure"


def _said_before(clause: str, start: int) -> Denial:
    said = re.split("[:=]", clause[:start])[-1]
    words = [word.strip("-'") for word in _WORD.findall(_FREE_OF.sub("without", said))]
    everywhere = _WORD.findall(clause)
    denials = [place for place, word in enumerate(words) if _denies(word, everywhere)]
    if not denials:
        return "none"
    nearest = denials[-1]
    if not _is_beside(words[nearest + 1 :]):
        return "unsure"
    if len(denials) == 1 or words[nearest] in _AGREEING:
        return "sure"
    second = words[nearest] in _WITHOUT or _is_beside(words[denials[-2] + 1 : nearest])
    return "unsure" if second else "sure"


def _denies(word: str, clause: list[str]) -> bool:
    return word in _DENIED or (word == "noch" and "weder" in clause) or (word == "ne" and clause.count("ne") > 1)


def _is_beside(between: list[str]) -> bool:
    """Whether two words stand together, with these between them; a word before "or" is one that is denied as well."""
    return all(
        word in _BETWEEN or word in _OR or between[place] in _OR for place, word in enumerate(between[:-1], 1)
    ) and (not between or between[-1] in _BETWEEN or between[-1] in _OR)


def _said_behind(clause: str, start: int, end: int) -> Denial:
    behind = clause[end:]
    free = _FREE_BEHIND.match(behind.lstrip() if clause.startswith(FREE_NOUNS, start) else behind)
    if free is not None:
        return "sure" if _DENIED.isdisjoint(_WORD.findall(behind)) else "unsure"
    if _DENIED_BEHIND.match(behind) or (clause.startswith(_LEAKS, start) and _says_fine(clause, start)):
        return "sure"
    return "unsure" if _OTHERWISE_BEHIND.match(behind) else "none"


def _says_fine(clause: str, start: int) -> bool:
    """Whether a leak was only looked for: "leak check ok", "leak: -"."""
    word = next(word for word in _LEAKS if clause.startswith(word, start))
    return (
        _LOOKED_FOR.fullmatch(clause, 0, start) is not None
        and _FINE_BEHIND.match(clause, start + len(word)) is not None
    )
