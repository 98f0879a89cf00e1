"""Rows that their writer has taken back in words: "void" in a column of their own, "typed twice" in a note."""

from __future__ import annotations

from collections.abc import Mapping

import polars as pl

from draincurve.pipeline.reading.cleaning.word_cells import read_service_kind
from draincurve.pipeline.reading.cleaning.working_table import joined_findings, row_findings
from draincurve.pipeline.reading.sources.source_table import SourceTable

_TAKEN_BACK = (
    "void(?:ed)?|cancell?ed|deleted|invalid|not valid|ignored?|duplicate|storniert|gelöscht|ungültig|doppelt|annulée?"
    "|supprimée?|doublon"
    "|double (?:entry|row)|duplicad[oa]|duplicat[oa]|doppel(?:te[rn]?)?[ -]?eintrag"
    "|anulad[oa]|cancelad[oa]|borrad[oa]|annullat[oa]|eliminat[oa]|cancellat[oa]"
)
_NOT_DONE = "planned|scheduled|to ?do|not done|geplant|prévue?|previst[oa]|planificad[oa]|pianificat[oa]"
_EXAMPLE = "example(?: row| line| only| entry)?|beispiel(?:zeile)?|exemple|ejemplo|esempio"
_NO_COUNT = (
    "(?:please |pls |bitte |to be |to |à |da |por favor |per favore )?(?:ignore|ignorieren|ignorer|ignorar|ignorare)"
    "(?: please| bitte| svp)?|(?:do not|don't|dont|not to|nicht|ne pas|no|non) "
    "(?:be counted|count|(?:mit)?zählen|(?:ge)?werten|compter|contar|contare)"
    "|(?:doesn't|does not) count|zählt nicht|ne compte pas|no cuenta|non conta"
)
"""Words that take a row back where their clause ends behind them."""
_ONLY = "(?:only|just|nur|seulement|juste|sólo|solo|solamente|soltanto)"
_TOPPED_UP = (
    "(?:(?:oil|öl|aceite|olio|huile) )?(?:topped[ -]?up|top[ -]?up|filled up|(?:auf|nach)gefüllt|appoint"
    "|complété|rellenado"
    "|relleno|rabbocc(?:ato|o))"
)
_MUCH = "(?:(?:by|with|um|mit|de|di) )?\\d+ ?(?:ml|cc)"
_NO_MORE = "(?:nothing|sonst nichts|rien|nada|niente)(?: else| d'autre| más| altro)?"
_OIL = "(?:the )?(?:oil|öl|l'huile|huile|el aceite|aceite|l'olio|olio)"
_NO_DRAIN = (
    f"{_ONLY} (?:{_MUCH} )?{_TOPPED_UP}(?: {_MUCH})?|{_TOPPED_UP} (?:{_MUCH} )?{_ONLY}"
    f"|(?:{_MUCH} {_TOPPED_UP}|{_TOPPED_UP} {_MUCH}),? {_NO_MORE}|{_OIL} (?:was |is |wurde |n'est |non è )?"
    "(?:not|nicht|pas|no|non) (?:été )?(?:changed|drained|gewechselt|abgelassen|changée?|vidangée?|cambiado|cambiato)"
    "|(?:not a|no|kein|keine?|pas une|pas de|no es un|non è un) (?:full |real |richtiger )?"
    "(?:drain|oil change|ölwechsel|vidange|cambio de aceite|cambio (?:d')?olio)"
)
"""Words that say that no oil was drained, where their clause ends behind them."""
_END = r"(?:\W*$|\s*[,;.:!(–-])"
_BEGIN = r"(?:^|[,;.!(])\W*"
NO_DRAIN = rf"(?i){_BEGIN}(?:{_NO_DRAIN}){_END}"
"""A clause in the note of a row that is no change of oil."""
_WRONG = (
    "(?:typed|entered|logged) twice|duplicate of|doppelt (?:eingetragen|getippt)|ignore (?:this|row|line|entry)"
    "|wrong (?:unit|fork|leg|shock|bike|date|hours|row|line|entry)|falsche[rs]? (?:einheit|gabel|datum|zeile)"
    "|mauvaise?s? (?:fourche|unité|date|ligne|heures?)"
    r"|(?:wrong|incorrect|error|mistake|typo|falsch|fehler|faux|erreur|incorrecto|mal|sbagliato|errore)"
    r"(?:\W*$|\s*[-–—,;:.(!]+\s*(?:see|use|look|correct|siehe|s\.|richtig|voir|ver|véase|vedi)\b)"
    "|(?:superseded|replaced|corrected|ersetzt|korrigiert|remplacée?|corrigée?|sustituid[oa]|corregid[oa]|sostituit[oa]"
    "|corrett[oa]) (?:by|in|on|durch|par|à|por|en|da|nell[ao]) (?:the |der |die |la )?(?:next |nächste[rn]? )?"
    "(?:line|row|entry|zeile|eintrag|ligne|línea|fila|riga)"
    "|(?:copy|kopie) (?:of|von|der) (?:the |der )?(?:line|row|entry|zeile)"
)
CELL = rf"(?i)^\W*(?:{_TAKEN_BACK}|{_NOT_DONE}|{_EXAMPLE})\W*$"
"""A cell that says nothing else."""
_IN_A_NOTE = rf"void(?:ed)?|cancell?ed|deleted|storniert|gelöscht|ungültig|annulée?|anulado|annullato|{_WRONG}"
NOTE = rf"(?i)^\W*(?:{_IN_A_NOTE})(?:\W|$)|{_BEGIN}(?:{_NO_COUNT}){_END}"
"""The beginning of a note, or a clause of it."""
MOST_STATES = 50
"""Different cells of a column that says what became of each row; a column with more of them says something else."""
_NO_DRAIN_MESSAGE = "says that no oil was changed: write top-up under service_kind, or delete the row or this note"
_MESSAGE = "says that the row does not count: delete the row, or this word if it does count"


def void_findings(source: SourceTable, columns: Mapping[str, str]) -> pl.DataFrame:
    """Findings that hold back such rows of a file.

    columns : contract's column of each header that is used; notes and columns that are not known are looked at
    """
    findings = []
    for name in source.cell_columns:
        column = columns.get(name, name)
        if name in columns and column != "note":
            continue
        cells = source.frame.get_column(name).cast(pl.String)
        if column != "note" and cells.head(10 * MOST_STATES).n_unique() > MOST_STATES:
            continue
        rows = pl.DataFrame({"_row": pl.int_range(cells.len(), eager=True, dtype=pl.UInt32), column: cells})
        if column == "note":
            cells = cells.str.replace_all("’", "'", literal=True)
            no_drain = rows.filter(cells.str.contains(NO_DRAIN))
            kinds = [source.frame.get_column(header) for header in columns if columns[header] == "service_kind"]
            for kind in kinds:
                is_topped_up = read_service_kind(kind.gather(no_drain["_row"]))["value"] == "top-up"
                no_drain = no_drain.filter(~is_topped_up.fill_null(False))
            findings.append(row_findings(no_drain, column, kind="held back", message=_NO_DRAIN_MESSAGE))
        says = cells.str.contains(f"{CELL}|{NOTE}" if column == "note" else CELL)
        findings.append(row_findings(rows.filter(says), column, kind="held back", message=_MESSAGE))
    return joined_findings(findings)
