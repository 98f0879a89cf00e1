"""Notes that correct a cell of their row, in English, German, French, Spanish and Italian.

"should be debris 4" or "was F03, not F01" says that a cell is wrong, so the row is held back; "hours guessed" says
that one is rough; "was F02" may say how the unit was called before.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

import polars as pl

from draincurve.pipeline.reading.cleaning.missing_changes import UNLOGGED, says_change_between
from draincurve.pipeline.reading.cleaning.note_doubts import CELL_IN_DOUBT, UNCERTAIN
from draincurve.pipeline.reading.cleaning.spelling_keys import spelling_key
from draincurve.pipeline.reading.cleaning.working_table import row_findings

LONGEST_SHOWN = 60
"""Letters of a note that are shown."""

_CELL = (
    "unit|fork|leg|shock|bike|date|day|hours|hrs|rider|rater|rating|colour|color|debris|row|line|entry|einheit|gabel|datum"
    "|tag|stunden|fahrer|farbe|zeile|eintrag|fourche|heures?|pilote|couleur|ligne|unidad|horquilla|fecha|horas|piloto|fila"
    "|forcella|data|ore|pilota|colore|riga"
)
_IS = r"(?: (?:is|was|are|were|ist|war|sind|est|sont|es|son|è|sono))?"
_WRONG = r"(?:wrong|incorrect|not right|falsch|nicht richtig|fausses?|faux|incorrect[ao]s?|mal|sbagliat[aeio])"
_REALLY = "(?:actually|really|in fact|eigentlich|in wirklichkeit|en fait|en realidad|in realtà)"
_RATHER = (
    f"(?:{_REALLY}|maybe|perhaps|probably|rather|more like|likely|eher|vielleicht|wohl|plutôt|peut-être|quizás|mejor"
    "|forse|piuttosto)"
)
_HOURS = " ?(?:h|hrs|hours|stunden|std|heures|horas|ore)?"
_MINUTES = "(?:min|minutes?|minuten|minutos|minuti)"
_HOURS_WORD = "(?:hours|hrs|h|stunden|std|heures|horas|ore)"
_MACHINE = "(?:bike|engine|machine|meter|motorrad|motor|zähler|moto|moteur|compteur|contador|motore|contaore)"
_OF_A_MACHINE = (
    rf"{_HOURS_WORD}(?: are| is| sind| sont| son| sono)? (?:of|from|vom|von der|du|de la|del|della)(?: the)?"
    rf"(?: whole)? {_MACHINE}"
    rf"|{_HOURS_WORD}(?: are| is| sind| sont| son| sono)? (?:of|for|from|von|des|de|di) (?:both|beiden|les deux"
    r"|los dos|ambos|entrambi) \w+"
    rf"|{_HOURS_WORD}(?: are| is| sind| sont| son| sono)? (?:since|seit|depuis|desde|da|dal|dalla)"
    r" (?:the |der |la |el )?(?:last |letzten )?(?:rebuild|overhaul|new|neu|überholung|r[eé]visi[oó]ne?)"
    rf"|(?:odometer|meter|clock|total|engine|bike|machine) {_HOURS_WORD}|{_HOURS_WORD} (?:total(?:es|i)?|gesamt)"
    "|zählerstand|gesamtstunden|motorstunden|relevé du compteur|lectura del contador|lettura del contaore"
)
"""Notes that say that the hours are a machine's or a meter's."""
_CORRECTED = re.compile(
    rf"\b(?:{_CELL}){_IS} {_WRONG}\b(?! way| side| oil| parts?| tool)"
    rf"|\b(?:should (?:be|have been|read)|must be|sollte|müsste|devrait être|debería ser|dovrebbe essere) "
    rf"(?:(?:{_CELL})\b|\d+(?:[.,]\d+)? ?(?:h|hrs|hours|stunden)?\W*(?:$|not|nicht|pas|no|non))"
    rf"|\b{_REALLY} "
    rf"(?:(?:it|it was|was|is|war) )?(?:(?:{_CELL}) ?)?\d+(?:[.,:]\d+)? ?(?:h|hrs|hours|stunden|std)?\W*$"
    r"|\b(?:was|is|war|ist|était|era) [a-z]{0,6}[ -]?\d+\w?,? (?:and )?(?:not|nicht|pas|no|non) "
    r"[a-z]{0,6}[ -]?\d+\w?\b"
    rf"|\b(?:typo|mistake|tippfehler|fehler|faute|erreur|error|errore) (?:in|bei|dans|en|nelle|nella|nei)"
    rf"(?: (?:the|den|dem|der|les|la|las|el))? (?:{_CELL})\b"
    rf"|\b(?:{_CELL})(?:{_IS}:?|:) {_RATHER} \d+(?:[.,]\d+)?{_HOURS}\W*$"
    rf"|\b(?:{_CELL}){_IS} \d+(?:[.,]\d+)?{_HOURS},? (?:{_REALLY}\W*$|(?:not|nicht|pas|no|non) \d)"
    rf"|^\W*(?:correct|korrekt|richtig|juste|correcto|giusto|corretto){_IS}:? \d+(?:[.,]\d+)?{_HOURS}\W*$"
    rf"|\b(?:oil|öl|huile|aceite|olio|spring|feder|ressort|muelle|molla){_IS} [^\d]{{0,20}}\d\S* {_REALLY}\W*$"
    rf"|\b(?:hours|hrs|stunden|heures|horas|ore) (?:in|en) {_MINUTES}\b"
    rf"|^\W*(?:(?:in|en) {_MINUTES}|{_MINUTES}!+|= ?\d+ ?{_MINUTES})\W*$"
    r"|\b(?:belongs to|gehört zu|appartient à|pertenece a|appartiene a) (?:the |der |la )?[a-z]{0,6}[ -]?\d+\w?\b"
    r"|\bwrong oil (?:was |had been )?(?:filled|used|poured|put|went)\b|\bfalsches öl (?:eingefüllt|drin|verwendet)\b"
    r"|\bmauvaise huile (?:remplie|utilisée|mise)\b|\baceite equivocado\b|\bolio sbagliato\b"
    rf"|^\W*(?:{_OF_A_MACHINE})\W*$"
    r"|^\W*(?:this is|das ist|c'est|es la|è la) [a-z]{1,6}[ -]?\d+\w?\W*$",
)
_ROUGH = re.compile(
    r"\b(?:hours|hrs|stunden|std|heures|horas|ore)\W{1,3}(?:(?:is|are|were|only|nur|sind) )?"
    rf"(?:guess|estimat|approx|rough|geschätzt|ungefähr|estim|aprox|stimat|{UNCERTAIN}\b)"
    r"|\b(?:guessed|estimated|approximate|rough|geschätzte) (?:hours|hrs|stunden)\b"
)
_ANY = (
    "wrong|incorrect|right|falsch|richtig|faux|fauss|sbagliat|mal|should|must|sollte|müsste|devrait|debería|dovrebbe"
    "|actually|really|fact|eigentlich|wirklichkeit|fait|realidad|realtà|not|nicht|pas|no|guess|estim|approx|rough|unsure"
    "|schätzt|ungefähr|aprox|stimat|typo|mistake|fehler|faute|erreur|error|maybe|perhaps|probabl|rather|like|eher"
    "|vielleicht|wohl|plutôt|peut|quizás|mejor|forse|piuttosto|correct|korrekt|juste|giusto|corretto|min|belongs|gehört"
    "|appart|pertenece|this|das ist|c.est|es la|è la|reliab|certain|doubt|question|sicher|zuverlässig|fraglich"
    "|geraten|genau|oil|öl|huile|aceite|olio|bike|engine|machine|meter|motor|zähler|compteur|contador|contaore|total|clock|"
    "gesamt|\\?|incert|douteu|fiable|fidabile|dudos|inciert|dubbi|rated|bewertet|noté|valorado|valutato"
    "|light|licht|lumière|luz|luce|unknown|bekannt|inconnu|desconoc|sconosc|stuck|broken|dead|defe[ck]|kaputt|panne|cass"
    "|bloqu|roto|averiad|rotto|guast|fermo|blocca|stopped|photo|foto|picture|bild|imagen|immagine|both|two|beide|deux"
    "|amb[oa]s|los dos|entramb|rebuild|overhaul|überhol|révis|revis|since|seit|between|meantime|meanwhile|halfway"
    "|midway|zwischen|dazwisch|temps|medi|frattempo|forgot|vergess|oubli|olvid|dimentic|miss|manqu|falta|manca|logged|record"
    "|registr|anota|apunta|annota"
)
"""Finds every note that may correct a cell, and more: polars knows no look-around."""
_FORMER_WORDS = (
    r"\b(?:was|formerly|previously|ex|old name|renamed from|früher|vorher|ehemals|ehem\.?|alter name|umbenannt von"
    r"|anciennement|ancien nom|antes|anterior|prima|vecchio nome)[\s:=-]"
)
_FORMER = re.compile(rf"{_FORMER_WORDS}+(?P<name>.+)")
_MOST_WORDS = 3
"""Words of a name behind such a word."""
_MESSAGE = "says that a cell of the row is wrong: correct that cell, and delete the note"
_DOUBTS = "doubts a cell of the row: correct or empty that cell, and delete the note"


def correction_findings(notes: pl.Series, *, rows: pl.Series) -> list[pl.DataFrame]:
    """Rows that are held back for what their note says of a cell, and notes on hours that are rough.

    notes, rows : the note and `_row` of each row
    """
    may_be = notes.str.to_lowercase().str.contains(_ANY).fill_null(False)
    table = pl.DataFrame({"_row": rows, "note": notes}).filter(may_be)
    texts = table["note"].unique(maintain_order=True)
    corrected = [text for text in texts if _CORRECTED.search(_plain(text))]
    doubted = [text for text in texts if text not in corrected and CELL_IN_DOUBT.search(_plain(text))]
    between = [text for text in texts if text not in (*corrected, *doubted) and says_change_between(_plain(text))]
    rough = [text for text in texts if text not in (*corrected, *doubted, *between) and _ROUGH.search(_plain(text))]
    unsure = row_findings(table.filter(pl.col("note").is_in(doubted)), "note", kind="held back", message=_DOUBTS)
    held = row_findings(table.filter(pl.col("note").is_in(corrected)), "note", kind="held back", message=_MESSAGE)
    other_fill = row_findings(table.filter(pl.col("note").is_in(between)), "note", kind="held back", message=UNLOGGED)
    approximate = pl.format("the note '{}' says that it is approximate", pl.col("note").str.slice(0, LONGEST_SHOWN))
    about = table.filter(pl.col("note").is_in(rough))
    return [held, unsure, other_fill, row_findings(about, "oil_hours", kind="note", message=approximate)]


def former_names(drains: pl.DataFrame, *, shown: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """Pairs of a unit and the name that a note of its row says that it had, if that name ends before it begins.

    drains : unit_id, as shown, drained_on and note. shown : the spelling shown, by spelling key
    """
    rows = drains.select(pl.col("unit_id").cast(pl.String), "drained_on", "note")
    told = rows.filter(pl.col("note").str.to_lowercase().str.contains(_FORMER_WORDS)).drop_nulls("unit_id")
    if told.is_empty():
        return ()
    day = pl.col("drained_on")
    spans = rows.group_by("unit_id").agg(day.min().alias("first"), day.max().alias("last"))
    first, last = (dict(spans.select("unit_id", end).drop_nulls().iter_rows()) for end in ("first", "last"))
    pairs: dict[tuple[str, str], None] = {}
    for unit, note in told.select("unit_id", "note").unique(maintain_order=True).iter_rows():
        name = _named_behind(_plain(note), shown)
        if name in last and unit in first and last[name] <= first[unit]:
            pairs[min(unit, name), max(unit, name)] = None
    return tuple(pairs)


def _named_behind(note: str, shown: Mapping[str, str]) -> str:
    """The unit that a note names as a former one; empty where it names none."""
    match = _FORMER.search(note)
    words = re.findall(r"[^\s,;()]+", match["name"])[:_MOST_WORDS] if match is not None else []
    keys = (spelling_key(" ".join(words[:count])) for count in range(len(words), 0, -1))
    return next((shown[key] for key in keys if key in shown), "")


def _plain(note: str) -> str:
    return " ".join(note.casefold().replace("’", "'").split())
