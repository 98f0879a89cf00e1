"""Cells that hold words: names and free text, yes or no, the kind of service, and words for nothing known."""

from __future__ import annotations

import re
from collections.abc import Callable

import polars as pl

from draincurve.pipeline.reading.cleaning.yes_no_words import is_doubted, is_unknown, yes_or_no
from draincurve.schemas.columns import SIGNS

_NO_TEXT = ("-", "--", "–", "—", "?", "??", "n/a", "#n/a", "null", "tbd", "tba", "tbc", "n/d", "n.v.t.")
_BLANK = (
    *("", "-", "--", "–", "—", "?", "??", "n/a", "na", "#n/a", "nan", "none", "null", "unknown"),
    *(
        "unbekannt",
        "k.a.",
        "k. a.",
        "inconnu",
        "inconnue",
        "desconocido",
        "desconocida",
        "sconosciuto",
        "sconosciuta",
    ),
    *("tbd", "tba", "tbc", "n.a.", "n/d", "n.d.", "n.b.", "n. b.", "n.v.t.", "not known", "nicht bekannt"),
)
_SERVICES = {
    "oil": (
        *(
            "oil",
            "oilchange",
            "oilservice",
            "change",
            "drain",
            "service",
            "oils",
            "öl",
            "oel",
            "ölwechsel",
            "oelwechsel",
        ),
        *("wechsel", "huile", "vidange", "aceite", "cambiodeaceite", "cambioaceite", "olio", "cambioolio"),
    ),
    "rebuild": (
        *("rebuild", "rebuilt", "overhaul", "fullservice", "strip", "fullrebuild", "überholung", "ueberholung"),
        *("überholt", "generalüberholung", "révision", "revision", "revisión", "revisione", "réfection"),
    ),
    "top-up": (
        *("topup", "toppedup", "top", "refill", "topping", "nachgefüllt", "nachfüllen", "nachgefuellt", "appoint"),
        *("complément", "rellenado", "relleno", "rabbocco"),
    ),
}
_SERVICE_OF = {word: kind for kind, words in _SERVICES.items() for word in words}


def is_blank(text: str) -> bool:
    """Whether a cell for a number, date or rating says that nothing is known."""
    return text.strip().casefold() in _BLANK


def read_text(texts: pl.Series) -> pl.Series:
    """Text trimmed, with runs of spaces made one; a blank or a dash is null. Shape (n,).

    Marks of direction that nobody sees are dropped at both ends: within a text of another script they may be letters.
    """
    cell = pl.col("text").str.replace_all(r"[\s\u00a0]+", " ").str.replace_all(r"^[\p{Cf}\s]+|[\p{Cf}\s]+$", "")
    nothing = (cell == "") | cell.str.to_lowercase().is_in(_NO_TEXT)
    return (
        pl.DataFrame({"text": texts.cast(pl.String)}).select(pl.when(~nothing).then(cell).alias("text")).to_series()
    )


def read_yes_no(texts: pl.Series, column: str = "") -> pl.DataFrame:
    """Columns value (Boolean, null for unknown) and reason (why a cell cannot be read), shape (n,).

    column : of the contract; some words mean yes or no in that column alone, such as "dry" under leak. What may be
    yes under a sign, such as a question mark, "yes?" or "maybe", counts as yes and has a column asked, unless the
    column holds nothing but question marks
    """
    read = _read_each(texts, pl.Boolean, read=lambda text: _yes_no(text, column))
    if column not in SIGNS:
        return read
    typed = texts.cast(pl.String)
    doubts = {text: is_doubted(text, column) for text in typed.drop_nulls().unique()}
    only_marks = typed.str.contains(r"^\s*\?+\s*$").all()
    doubted = typed.replace_strict(doubts, default=False, return_dtype=pl.Boolean)
    if only_marks or not doubted.any():
        return read
    asked = pl.lit("may be yes: write yes or no, or leave it blank; until then it counts as yes")
    return read.with_columns(
        pl.when(doubted).then(True).otherwise("value").alias("value"),
        pl.when(~doubted).then("reason").alias("reason"),
        pl.when(doubted).then(asked).alias("asked"),
    )


def read_service_kind(texts: pl.Series) -> pl.DataFrame:
    """Columns value ("oil", "rebuild" or "top-up"; a blank is "oil") and reason, shape (n,)."""
    read = _read_each(texts, pl.String, read=_service)
    return read.with_columns(
        pl.when(pl.col("reason").is_null()).then(pl.col("value").fill_null("oil")).alias("value")
    )


def _yes_no(text: str, column: str) -> tuple[bool | None, str | None]:
    read = yes_or_no(text, column)
    unread = read is None and not is_unknown(text)
    until = "; until then it counts as yes" if column in SIGNS else ""
    return read, f"is neither yes nor no: write yes or no, or leave it blank{until}" if unread else None


def _service(text: str) -> tuple[str | None, str | None]:
    word = re.sub(r"[\W_]+", "", text.casefold())
    if not word:
        return None, None
    kind = _SERVICE_OF.get(word) or _first_kind(text)
    return kind, None if kind else "is no kind of service: write oil, rebuild or top-up"


def _first_kind(text: str) -> str | None:
    """The kind of a service that is named with other work, such as "oil + seals"; None where several kinds are."""
    parts = re.split(r"\s*(?:[+&,;/]|\band\b|\bwith\b|\bund\b|\bmit\b|\bet\b|\bavec\b|\bcon\b)\s*", text.casefold())
    kinds = {_SERVICE_OF.get(re.sub(r"[\W_]+", "", part)) for part in parts} - {None}
    denied = re.search(r"\b(?:no|not|without|only|ohne|nur|kein|sans|seulement|sin|solo|senza)\b", text.casefold())
    return kinds.pop() if len(parts) > 1 and len(kinds) == 1 and denied is None else None


def _read_each(
    texts: pl.Series, kind: type[pl.DataType], *, read: Callable[[str], tuple[object, str | None]]
) -> pl.DataFrame:
    """Value and reason of each text; nulls for an empty cell."""
    pairs = [(None, None) if text is None else read(text) for text in texts.cast(pl.String)]
    return pl.DataFrame(pairs, schema={"value": kind, "reason": pl.String}, orient="row")
