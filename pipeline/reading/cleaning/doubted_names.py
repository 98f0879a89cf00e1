"""Doubtful cells of names: a question mark, an error or a formula of a spreadsheet, a name turned into a date."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping

import polars as pl

from draincurve.pipeline.reading.cleaning.month_names import month_number
from draincurve.pipeline.reading.cleaning.spelling_keys import spelling_key
from draincurve.pipeline.reading.cleaning.working_table import WorkingTable, file_finding, words_setting

_DOUBT = r"\?"
_LOST = "\ufffd"
"""What programs write for a letter that they could not read."""
_ERROR = (
    r"^#(?:[\p{Lu}¿/0-9]*\p{Lu}{2}[\p{Lu}/0-9]*[!?]|DIV/0!|N[VD]|N/D)$"
    r"|^=\$?(?:\p{Lu}{1,3}\$?\d|[\p{Lu}.]{2,}\(|[^=]+!)"
)
"""An error of a spreadsheet in one of five languages, such as #REF! or #BEZUG!, or the text of a formula that names a
cell or a function."""
_DATE = re.compile(
    r"\d{4}-\d\d-\d\d(?:[ T]00:00(?::00)?)?|\d{1,2}[.\s/-]*(?P<behind>[^\W\d_]{3,})\.?"
    r"|(?P<before>[^\W\d_]{3,})[.\s/-]+\d{1,2}"
)
_SHORTENED_NUMBER = r"^\d(?:[.,]\d+)?[eE]\+\d{2,}$"
"""What a spreadsheet makes of a name such as 12E4, and of a long number."""
_NAMED = {"unit_id": "the unit", "oil_grade": "the oil", "spring_type": "the spring", "rider": "who rode"}
"""Columns of drains that must name something, with what it is."""
_NOT_KNOWN = (
    "unknown|not known|unsure|not sure|dunno|don'?t know|unclear|unbekannt|nicht bekannt|unklar|weiß nicht|inconnue?"
    "|desconocid[oa]|no (?:lo )?s[eé]|sconosciut[oa]|non so"
)
_AS_BEFORE = (
    "(?:the )?same(?: as| one)?(?: (?:last time|before|always|usual))|as (?:before|last time|usual|always)"
    "|un ?changed|no change|like last time|wie (?:vorher|zuvor|gehabt|immer|letztes mal|davor)|unverändert"
    "|gleich(?:e[rs]?)? wie (?:vorher|zuvor)|comme (?:avant|d'habitude|la dernière fois)|inchangée?"
    "|como (?:antes|siempre)|sin cambios?|come (?:prima|sempre|al solito)|invariat[oa]"
)
_SEE = "see (?:the )?(?:notes?|remarks?)|siehe (?:notiz|bemerkung)|voir (?:la )?(?:note|remarque)|ve[rd]i? not[ae]s?"
_NO_NAME = rf"(?i)^\W*(?:{_NOT_KNOWN}|{_AS_BEFORE}|{_SEE})\W*$"
_NO_OIL = (
    r"(?i)^\W*(?:none|nothing|no oil|kein(?:e[rs]?)?|nichts|aucune?|rien|ningun[oa]|nada|nessun[oa]?|niente)\W*$"
)
_NEARLY_A_DATE = r"^\d{4}-\d\d-\d\d|^\d{1,2}[.\s/-]*\p{L}{3,}\.?$|^\p{L}{3,}[.\s/-]+\d{1,2}$"
_SHORTENED = "is a number that a spreadsheet shortened: type the whole name as text, in every row"
_OFTEN_DATES = ("unit_id", "spring_type", "oil_grade", "machine")
"""Columns whose names are often two numbers, such as 1-2, of which a spreadsheet makes a date."""


def doubts_about_names(
    working: WorkingTable, column: str, names: pl.Series, *, shown: Mapping[str, str], settled: Collection[str]
) -> list[pl.DataFrame]:
    """Findings about doubtful names of a column.

    An error of a spreadsheet, and a unit with a question mark, hold their rows back; any other name with a question
    mark is read as the name, with a note. A name that is a date is asked about.

    names : the distinct texts of the column. shown : the spelling shown, for each text. settled : spelling keys of
    names about which the settings say something
    """

    def unsettled(doubtful: Iterable[str]) -> list[str]:
        return sorted(name for name in doubtful if spelling_key(name) not in settled)

    errors = names.str.contains(_ERROR)
    dates = filter(_is_date, names.filter(names.str.contains(_NEARLY_A_DATE))) if column in _OFTEN_DATES else ()
    in_doubt = unsettled(names.filter(names.str.contains(_DOUBT) & ~errors))
    nameless = names.str.contains(_NO_NAME)
    if column == "oil_grade":
        nameless |= names.str.contains(_NO_OIL)
    needed = working.table == "drains" and column in _NAMED
    shortened = names.str.contains(_SHORTENED_NUMBER)
    return [
        *(_held_back(working, column, unsettled(names.filter(nameless)), _no_name(column)) if needed else []),
        *(_held_back(working, column, unsettled(names.filter(shortened)), _SHORTENED) if needed else []),
        *_errors(working, column, unsettled(names.filter(errors))),
        *_lost_letters(working, column, names, unsettled(names.filter(names.str.contains(_LOST)))),
        *_dates(column, unsettled(dates)),
        *_question_marks(working, column, {text: shown[text] for text in in_doubt}),
    ]


def _no_name(column: str) -> str:
    return f"does not name {_NAMED[column]}: write the name; if it is a name, say so in the settings"


def _held_back(working: WorkingTable, column: str, names: list[str], message: str) -> list[pl.DataFrame]:
    """Rows with any of these names, with lines for the settings that make it one."""
    return [
        working.about_rows(
            _rows(working, column, [name]),
            column,
            kind="held back",
            message=message,
            setting=words_setting(column, name, name),
        )
        for name in names
    ]


def _errors(working: WorkingTable, column: str, errors: list[str]) -> list[pl.DataFrame]:
    if not errors:
        return []
    message = "is an error or a formula of a spreadsheet, not a name: write the name"
    return [working.about_rows(_rows(working, column, errors), column, kind="held back", message=message)]


def _lost_letters(working: WorkingTable, column: str, names: pl.Series, damaged: list[str]) -> list[pl.DataFrame]:
    """Rows whose name has lost a letter that the same name has in other rows."""
    whole = {name: re.escape(name).replace(_LOST, ".{1,2}") for name in damaged}
    meant = {
        name: names.filter(names.str.contains(rf"^{pattern}$") & (names != name)) for name, pattern in whole.items()
    }
    message = "has lost a letter: write the name as in other rows"
    return [
        working.about_rows(
            _rows(working, column, [name]), column, kind="held back", message=message, proposal=pl.lit(others[0])
        )
        for name, others in meant.items()
        if others.len()
    ]


def _dates(column: str, dates: list[str]) -> list[pl.DataFrame]:
    message = "is a date: did a spreadsheet make it of a name such as 1-2? Type the name as text, in every row"
    return [file_finding(column, name, kind="asked", message=message) for name in dates]


def _is_date(name: str) -> bool:
    match = _DATE.fullmatch(name)
    month = match and (match["behind"] or match["before"])
    return match is not None and (month is None or month_number(month) is not None)


def _question_marks(working: WorkingTable, column: str, doubted: Mapping[str, str]) -> list[pl.DataFrame]:
    if not doubted:
        return []
    rows = _rows(working, column, list(doubted))
    if column == "unit_id":
        message = "is not sure: write the unit without the question mark, or delete the row"
        return [working.about_rows(rows, column, kind="held back", message=message)]
    read = pl.format("'{}' is read as '{}'", "_text", pl.col("_text").replace(doubted))
    return [working.about_rows(rows, column, kind="note", message=read)]


def _rows(working: WorkingTable, column: str, texts: list[str]) -> pl.DataFrame:
    """The rows with any of these texts, with `_text`."""
    return working.parsed.select("_row", pl.col(column).alias("_text")).filter(pl.col("_text").is_in(texts))
