"""What people do with a table besides typing: a name stands for the rows below it, and colours have a legend."""

from __future__ import annotations

import re
from collections.abc import Iterable

import polars as pl

from draincurve.pipeline.reading.cleaning.headers import MatchedTable
from draincurve.pipeline.reading.cleaning.row_kinds import TITLE
from draincurve.pipeline.reading.cleaning.working_table import file_finding
from draincurve.pipeline.reading.sources.source_table import SourceTable

FEWEST_ROWS, LEAST_SHARE = 6, 0.5
"""Rows of a file, and the share of them without a name, from which it may stand for the rows below it."""
_BELOW = ("unit_id", "oil_grade", "spring_type", "rider")
"""Columns that every row needs."""
_COLOURS = (
    "red|orange|yellow|green|blue|grey|gray|pink|purple|rot|gelb|grün|blau|grau|rouge|jaune|vert|bleu|gris|rojo|amarillo"
    "|verde|azul|rosso|giallo|blu|grigio"
)
_LEGEND = re.compile(
    rf"\b(?:{_COLOURS})\b(?: (?:rows?|cells?|zeilen?|lignes?|filas?|righe))?\s*(?:=|:|means|heißt|bedeutet)",
    re.IGNORECASE,
)

_TIMES = "times?|hours?|durations?|zeiten|zeit|stunden|dauer|heures?|durées?|horas?|tiempos?|ore|tempi|durate?"
_AMOUNTS = "volumes?|amounts?|fills?|mengen?|volumen|füllmengen?|volúmenes|cantidades|volumi|quantità|quantités?"
_IN = r"[^.;]{0,20}?\b(?:in|en|as|als|=|:)\s*"
_UNIT = re.compile(
    rf"\b(?:{_TIMES})\b{_IN}(?:min(?:\.|utes?|uten|utos?|uti)?|days?|tagen?|jours|días|giorni)\b"
    rf"|\b(?:{_AMOUNTS})\b{_IN}(?:[cd]?l|lit(?:re|er|ro|ri)s?|oz|ounces)\b"
    r"|\bmeter readings?\b|\bzählerst[aä]nde?\b|\brelevés? (?:du |de )?compteur|\blecturas? del contador"
    r"|\blettur[ae] del contaore",
    re.IGNORECASE,
)
"""A unit that is not the contract's, or hours of a meter."""


def names_for_rows_below(table: MatchedTable, no_rows: pl.DataFrame) -> list[pl.DataFrame]:
    """A question about each column of which most cells are blank below a name.

    no_rows : lines that are no rows, by `_row`
    """
    if table.table != "drains":
        return []
    rows = table.frame.filter(~pl.col("_row").is_in(no_rows["_row"].implode()))
    findings = []
    for column in _BELOW:
        if column not in rows.columns or rows.height < FEWEST_ROWS:
            continue
        texts = rows[column].unique()
        blank = texts.filter(texts.cast(pl.String).str.strip_chars().fill_null("") == "")
        count = int(rows[column].is_in(blank.implode(), nulls_equal=True).sum()) if blank.len() else 0
        if count >= LEAST_SHARE * rows.height and rows[column][0] not in blank:
            message = (
                f"is empty in {count} of {rows.height} rows: does a name stand for the rows below it? Fill the cells "
                "down, or write a ditto mark in each"
            )
            findings.append(file_finding(column, None, kind="asked", message=message))
    return findings


def titles_of(source: SourceTable, no_rows: pl.DataFrame) -> tuple[str, ...]:
    """The texts of lines above the header, and of titles among the rows."""
    above = [text for line in source.beside if not line.hidden for _, text in line.cells]
    return tuple(dict.fromkeys((*above, *no_rows.filter(pl.col("reason") == TITLE)["text"].drop_nulls())))


def questions_about_titles(titles: Iterable[str]) -> list[pl.DataFrame]:
    """A question about each title that says what colours mean, or in which unit cells are: no title is read."""
    findings = []
    for text in titles:
        if _LEGEND.search(text):
            message = "says what colours mean, and none is read: write it into the cells, such as yes under leak"
            findings.append(file_finding(None, text, kind="asked", message=message))
        elif _UNIT.search(text):
            message = (
                "says how cells are measured, and titles are not read: write it into the heading, as in Hours [min]"
            )
            findings.append(file_finding(None, text, kind="asked", message=message))
    return findings
